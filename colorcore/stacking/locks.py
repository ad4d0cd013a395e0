"""What the maker has decided already: this square goes there, that one stays out."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from colorcore.bundle.addressing import which_photo
from colorcore.errors import DealError
from colorcore.pattern.model import StackRule
from colorcore.wording import as_typed

OUT = "out"


@dataclass(frozen=True)
class Lock:
    """A square and the stacks that it may go to; no stack means that it stays out."""

    square: str
    stacks: tuple[str, ...]


def read_locks(
    locks: Iterable[str | Lock] | Mapping[str, str],
    squares: Sequence[str],
    stacks: Sequence[StackRule],
    counted: Mapping[str, str] | None = None,
) -> tuple[Lock, ...]:
    """Return locks from ``B3=Stars``, ``B3=fill`` (any stack of that role) or ``D5=out``.

    Upper and lower case are alike. A stack may be given by the beginning of its name where that
    is clear, or by its number in the pattern from 1. ``counted`` gives the address that a square
    has by the one that it has in another photo.

    Raises
    ------
    DealError
        If a lock names no square of the bundle, no stack, or contradicts another lock.
    """
    pairs = (f"{k}={v}" for k, v in locks.items()) if isinstance(locks, Mapping) else locks
    names = {square.casefold(): square for square in squares}
    names |= {other.casefold(): square for other, square in (counted or {}).items()}
    found: dict[str, Lock] = {}
    for item in pairs:
        lock = item if isinstance(item, Lock) else _read(item, names, stacks)
        if found.get(lock.square, lock).stacks != lock.stacks:
            raise DealError(
                f"Square {lock.square} is locked twice, to {_say(found[lock.square])} and to "
                f"{_say(lock)}; take one of the locks away."
            )
        found[lock.square] = lock
    return tuple(found.values())


def _say(lock: Lock) -> str:
    return " or ".join(lock.stacks) if lock.stacks else OUT


def _read(text: str, squares: Mapping[str, str], stacks: Sequence[StackRule]) -> Lock:
    name, equals, where = (part.strip() for part in as_typed(text).partition("="))
    if not (name and equals and where):
        raise DealError(f"A lock reads like B3=fill or D5=out, not {text!r}.")
    square = squares.get(name.casefold())
    if square is None:
        raise DealError(
            f"The lock {text!r} names square {name}, which the bundle does not have; "
            f"{which_photo(name, dict.fromkeys(squares.values())) or 'take the lock away'}."
        )
    if where.casefold() == OUT:
        return Lock(square, ())
    return Lock(square, _stacks_named(where, text, stacks))


def _stacks_named(where: str, text: str, stacks: Sequence[StackRule]) -> tuple[str, ...]:
    names = [rule.name for rule in stacks]
    fold = where.casefold()
    ways = (
        [name for name in names if name.casefold() == fold],
        [rule.name for rule in stacks if rule.role.value == fold],
        [names[int(where) - 1]]
        if where.isascii() and where.isdigit() and 0 < int(where) <= len(names)
        else [],
    )
    for found in ways:
        if found:
            return tuple(found)
    begins = [name for name in names if name.casefold().startswith(fold)]
    if len(begins) == 1:
        return tuple(begins)
    raise DealError(
        f"The lock {text!r} names no stack; write one of {', '.join(names)}, focal, fill or out."
    )
