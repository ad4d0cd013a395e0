"""Numbers, lists and verdicts as every step, the sheets and the terminal say them."""

import re
from collections.abc import Sequence
from pathlib import PurePath
from typing import Final

MINUS: Final = "\u2212"
_JOINER: Final = "\u2060"
ADDRESS: Final = re.compile(r"\b(\d{1,3})-([A-Z]{1,2}\d{1,3})\b")

VERDICT_WORDS: Final[dict[str, str]] = {
    "holds": "stands out clearly",
    "soft": "stands out a little",
    "melts": "runs into the background",
}

#: Why a verdict beside a printed background may be another than the average's distance gives.
BESIDE_PRINT: Final = (
    "The background is a print: whether a square holds, is soft or melts counts all the print's "
    "values, dark and light. So one that lies far from its average can still be soft, or melt, "
    "beside parts of it."
)

#: What follows from a photo's trust grade; ``colorcore.light.trust`` says when it is given.
TRUST_WORDS: Final[dict[str, str]] = {
    "A": "order and contrast can be relied on",
    "B": "the order can be relied on; look twice where contrast is close to a limit",
    "C": "the order from dark to light can be relied on; check contrast by eye, on the cloth",
    "D": "only a rough guide; sort by eye, and take the photo again if you can",
}


def file_name(path: str) -> str:
    """Return the last part of a path written on any system."""
    return PurePath(path.replace("\\", "/")).name


def trusted(grade: str) -> str:
    """Return a trust grade with what it means."""
    return f"trust grade {grade} (A is best, D worst): {TRUST_WORDS[grade]}"


def number(value: float, digits: int = 0) -> str:
    """Return a number with a true minus sign and no negative zero."""
    text = f"{value:.{digits}f}"
    if text.startswith("-"):
        text = text[1:] if not text.strip("-0.") else MINUS + text[1:]
    return text


def number_beside(value: float, *limits: float) -> str:
    """Return a number as whole as it can be said without seeming to reach, on either side of zero,
    a limit that it does not, nor to miss one that it reaches: 19.6 beside 20, not 20."""
    for digits in (0, 1):
        said = abs(round(value, digits))
        if all((said >= limit) == (abs(value) >= limit) for limit in limits):
            return number(value, digits)
    return number(value, 2)


def count(n: int, singular: str, plural: str | None = None) -> str:
    """Return ``1 square``, ``2 squares``."""
    return f"{n} {singular if n == 1 else plural or singular + 's'}"


def listing(words: Sequence[str], joint: str = "and") -> str:
    """Return ``a``, ``a and b``, ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joint} {words[-1]}"


def photos(numbers: Sequence[int]) -> str:
    """Return which photos are meant, by their numbers from 1 in rising order: ``photo 2``,
    ``photos 1 and 2``, ``photos 1 to 3 and 5``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [
        part
        for run in runs
        for part in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run))
    ]
    return f"{'photo' if len(numbers) == 1 else 'photos'} {listing(parts)}"


def unbroken(text: str) -> str:
    """Return ``text`` in which no line ends within an address such as 2-B3: behind the hyphen
    stands a word joiner, which does not show. ``as_typed`` takes it out again."""
    return ADDRESS.sub(rf"\1-{_JOINER}\2", text)


def as_typed(text: str) -> str:
    """Return words without what ``unbroken`` put into them: they may be copied from a page."""
    return text.replace(_JOINER, "").strip()


def sentence(text: str) -> str:
    """Return ``text`` with a capital letter before and a full stop behind."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def percent(share: float) -> str:
    """Return a chance of 0 to 1 in words that never claim certainty that is not there."""
    if 0.99 < share < 1:
        return "over 99\u00a0%"
    if 0 < share < 0.01:
        return "under 1\u00a0%"
    return f"{share:.0%}".replace("%", "\u00a0%")
