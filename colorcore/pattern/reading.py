"""Pattern files: TOML in, a checked Pattern out, or a sentence that names file and key."""

import difflib
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from io import StringIO
from pathlib import Path
from typing import Any

from colorcore.cutting.guillotine import Effort
from colorcore.errors import PatternError
from colorcore.pattern.fields import Table
from colorcore.pattern.fitting import check_pieces_fit
from colorcore.pattern.model import (
    Pattern,
    PatternSize,
    PieceRule,
    Role,
    StackRule,
    ValueRule,
)
from colorcore.pattern.units import read_units, uses_background
from colorcore.reading import read_whole

_SHIPPED = Path(__file__).parent / "shipped"
_LARGEST_FILE = 1_000_000
_MOST_SQUARES = 2_000
_OWN_KEYS = {"name", "description", "square_inches", "stack", "size"}


def shipped_patterns() -> dict[str, str]:
    """Return the patterns that come with the package: name for the command line -> description."""
    return dict(_descriptions())


@cache
def _descriptions() -> dict[str, str]:
    return {path.stem: _read_file(path).description for path in sorted(_SHIPPED.glob("*.toml"))}


def read_pattern(source: str | Path) -> Pattern:
    """Read a pattern file, or a shipped pattern by its name.

    A file of that path wins over a shipped pattern of that name.

    Raises
    ------
    PatternError
        If there is no such file or shipped pattern, if it cannot be read, or if it contradicts
        itself; the sentence names the file, the key and what was expected.
    """
    path = Path(source)
    try:
        is_file = path.is_file()
    except (OSError, ValueError):
        is_file = False
    if is_file:
        return _read_file(path)
    names = sorted(found.stem for found in _SHIPPED.glob("*.toml"))
    if str(source).removesuffix(".toml") in names:
        return _read_file(_SHIPPED / f"{str(source).removesuffix('.toml')}.toml")
    near = difflib.get_close_matches(path.stem, names, n=1, cutoff=0.7)
    raise PatternError(
        f"There is no pattern file {str(source)!r}, and no shipped pattern of that name"
        + (f" (did you mean {near[0]!r}?)" if near else "")
        + f"; shipped are {', '.join(names)}."
    )


def _read_file(path: Path) -> Pattern:
    too_large = f"{path}: too large for a pattern file; keep it below 1 MB."
    content = read_whole(path, PatternError, most=_LARGEST_FILE, too_large=too_large)
    return parse_pattern(decode_pattern(content, source=str(path)), source=str(path))


def decode_pattern(content: bytes, *, source: str) -> str:
    """Return the text of a pattern file, whatever marks its beginning and ends its lines.

    Raises
    ------
    PatternError
        If it is no text in UTF-8.
    """
    try:
        return StringIO(content.decode("utf-8-sig"), newline=None).read()
    except UnicodeDecodeError as error:
        raise PatternError(
            f"{source}: not a text file in UTF-8; save it as one, a pattern is TOML."
        ) from error


def parse_pattern(text: str, *, source: str = "pattern") -> Pattern:
    """Read a pattern from TOML text; ``source`` stands for the file in error sentences.

    Raises
    ------
    PatternError
        As `read_pattern`.
    """
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise PatternError(
            f"{source}: not valid TOML: {error}; mend it there or in the line before: words and "
            "lengths stand in quotation marks, and every bracket is closed."
        ) from error
    table = Table(document, source, "")
    square = table.inches("square_inches", default=10)
    rules = _read_stacks(table, square)
    sizes = _read_sizes(table, rules)
    for key, value in document.items():
        if key not in _OWN_KEYS and not isinstance(value, dict | list):
            table.fail(key, f"one of {', '.join(sorted(_OWN_KEYS))}, or a table of units")
    pattern = Pattern(
        name=table.text("name"),
        description=table.text("description", default=""),
        square_inches=float(square),
        sizes=sizes,
        sewing={key: value for key, value in document.items() if key not in _OWN_KEYS},
        source=source,
        text=text,
    )
    if not pattern.sewing and not any(size.sewing for size in sizes):
        return pattern
    if uses_background(read_units(pattern)):
        return pattern
    unsaid = {
        rule.name
        for rule, stack in zip(rules, table.tables("stack"), strict=True)
        if "beside_background" not in stack.data
    }
    return replace(pattern, sizes=tuple(_without_background(size, unsaid) for size in sizes))


def _without_background(size: PatternSize, names: Collection[str]) -> PatternSize:
    stacks = (
        replace(rule, beside_background=False) if rule.name in names else rule
        for rule in size.stacks
    )
    return replace(size, stacks=tuple(stacks))


def _read_stacks(table: Table, square: Fraction) -> tuple[StackRule, ...]:
    rules: list[StackRule] = []
    for stack in table.tables("stack", least=1, most=40):
        stack.only(
            "name", "role", "value", "max_copies", "min_contrast", "touches",
            "beside_background", "squares", "piece",
        )  # fmt: skip
        name = stack.text("name")
        if name in {rule.name for rule in rules}:
            stack.fail("name", f"a name that no other stack has, not {name!r} again")
        rules.append(
            StackRule(
                name=name,
                role=Role(stack.choice("role", [role.value for role in Role])),
                value=ValueRule(stack.choice("value", [rule.value for rule in ValueRule])),
                squares=stack.whole("squares", least=0, most=_MOST_SQUARES, default=0),
                pieces=tuple(_read_piece(piece, square) for piece in stack.tables("piece")),
                max_copies=stack.optional_whole("max_copies", least=1, most=_MOST_SQUARES),
                min_contrast=stack.optional_number("min_contrast", least=0.0, most=100.0),
                touches=stack.texts("touches"),
                beside_background=stack.flag("beside_background", default=True),
            )
        )
    names = [rule.name for rule in rules]
    effort = Effort()
    for rule, stack in zip(rules, table.tables("stack"), strict=True):
        for other in rule.touches:
            if other not in names:
                stack.fail("touches", f"names of stacks ({', '.join(names)}), not {other!r}")
        _check_pieces(rule, stack, square, effort)
    return tuple(rules)


def _read_piece(piece: Table, square: Fraction) -> PieceRule:
    piece.only("name", "width", "height", "per_square")
    width, height = piece.inches("width"), piece.inches("height")
    for key, length in (("width", width), ("height", height)):
        if length > square:
            piece.fail(key, f"at most the square's side, {square} in, not {length} in")
    return PieceRule(
        name=piece.text("name"),
        width=width,
        height=height,
        per_square=piece.whole("per_square", least=1, most=1_000),
    )


def _check_pieces(rule: StackRule, stack: Table, square: Fraction, effort: Effort) -> None:
    cut = sum(piece.width * piece.height * piece.per_square for piece in rule.pieces)
    if cut > square * square:
        stack.fail(
            "piece",
            f"pieces that one square holds ({float(square * square):g} square inches), not "
            f"{float(cut):g} square inches of them",
        )
    check_pieces_fit(stack, rule.pieces, square, effort)


def _read_sizes(table: Table, rules: tuple[StackRule, ...]) -> tuple[PatternSize, ...]:
    sizes: list[PatternSize] = []
    for size in table.tables("size", least=1, most=40):
        name = size.text("name")
        if name.casefold() in {other.name.casefold() for other in sizes}:
            size.fail("name", f"a name that no other size has, not {name!r} again")
        wanted = size.table("squares")
        wanted.only(*[rule.name for rule in rules])
        stacks = tuple(
            replace(
                rule,
                squares=wanted.whole(rule.name, least=0, most=_MOST_SQUARES, default=rule.squares),
            )
            for rule in rules
        )
        if not any(stack.squares for stack in stacks):
            size.fail("squares", "at least one stack that wants a square")
        known = {"name", "bundles", "finished", "squares"}
        sizes.append(
            PatternSize(
                name=name,
                bundles=size.whole("bundles", least=1, most=50, default=1),
                finished=size.optional_pair("finished"),
                stacks=stacks,
                sewing=_others(size.data, known),
            )
        )
    return tuple(sizes)


def _others(data: Mapping[str, Any], known: set[str]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in known}
