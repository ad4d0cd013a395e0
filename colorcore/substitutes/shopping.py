"""What to add to a bundle so that it fills a pattern well: a shopping note, by kind of fabric.

What a stack lacks is counted from the bundle alone: squares of its value, which hold against the
background where it is sewn to one, and squares at all. Ranges of L* follow from the bundle's own
value bands and, beside a background, from that and the limits of contrast; hues that are plentiful
already are left out, and the print that is rarest is asked for.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from colorcore.bundle import Bundle
from colorcore.color.bands import BANDS, band_breaks, value_bands
from colorcore.color.families import HUE_FAMILIES, hue_family
from colorcore.color.naming import describe_color
from colorcore.color.spaces import linear_from_lab
from colorcore.contrast import Background, Thresholds
from colorcore.lengths import exact_inches
from colorcore.pattern import PatternSize, Role, StackRule, ValueRule
from colorcore.pattern.model import is_too_large, is_too_small, say_waste
from colorcore.stash.amounts import squares_given
from colorcore.swatch import Swatch
from colorcore.swatch.prints import PRINTS, print_class
from colorcore.wording import count

PLENTY: Final = 0.25
"""Share of a bundle's coloured squares from which a hue family is plentiful (our choice)."""
FEW: Final = 1 / 6
"""Share of the mixed squares below which a value band is short (our choice)."""
MANY: Final = 0.5
"""Share of the mixed squares above which a value band is too many (our choice)."""
_WIDTH: Final = 13.0
_NARROWEST: Final = 4.0
_CLOTH: Final = (15.0, 96.0)
"""L* of black and of bleached cotton, roughly (from memory)."""
_PATCH_CHROMA: Final = (34.0, 24.0, 14.0)
_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip

Lab = tuple[float, float, float]


@dataclass(frozen=True)
class Wish:
    """So many squares of one kind.

    ``lightest`` and ``darkest`` bound L*; ``without`` are hue families that there are enough of;
    ``prints`` what of print to look for, one of ``PRINTS`` each; ``why`` a sentence; ``patches``
    examples of colours that would do, CIELAB.
    """

    squares: int
    stack: str
    darkest: float
    lightest: float
    without: tuple[str, ...]
    prints: tuple[str, ...]
    why: str
    patches: tuple[Lab, ...]

    @property
    def words(self) -> str:
        """``three squares of L* 25 to 38, any hue but green, small print``."""
        number = _NUMBERS[self.squares] if self.squares < len(_NUMBERS) else str(self.squares)
        noun = "square" if self.squares == 1 else "squares"
        hue = f"any hue but {' and '.join(self.without)}" if self.without else "any hue"
        return (
            f"{number} {noun} of L* {self.darkest:.0f} to {self.lightest:.0f}, {hue}, "
            f"{' or '.join(self.prints)}"
        )

    def fits(self, swatch: Swatch) -> bool:
        """Whether a fabric is of this kind; its print is a wish, not a condition."""
        within = self.darkest <= swatch.lab[0] <= self.lightest
        return within and hue_family(swatch.lab) not in self.without


@dataclass(frozen=True)
class ShoppingNote:
    """What to add. ``wishes`` is empty if nothing is missing; ``words`` say in sentences how the
    bundle stands; ``yardage`` what amounts of cloth give, for the shop."""

    wishes: tuple[Wish, ...]
    words: tuple[str, ...]
    yardage: str


def shopping_note(
    bundle: Bundle,
    size: PatternSize,
    background: Background,
    *,
    thresholds: Thresholds | None = None,
    square_inches: float = 10.0,
    left_out: Sequence[str] = (),
) -> ShoppingNote:
    """Return what to add to ``bundle`` for one size of a pattern that cuts squares of
    ``square_inches``.

    ``left_out`` are addresses of squares that are not for dealing.

    Raises
    ------
    CuttingError
        If ``square_inches`` is not above 0.
    """
    squares = [s for s in bundle.squares if s.id not in left_out]
    shelf = _Shelf(squares, background, thresholds or Thresholds())
    wishes: list[Wish] = []
    words = [shelf.summary()] if squares else ["The bundle has no squares."]
    words += _say_small([s.side_inches for s in squares], square_inches)
    words += _say_large([s.side_inches for s in squares], square_inches)
    for rule in sorted(size.stacks, key=lambda r: r.value is ValueRule.MIXED):
        if rule.value is not ValueRule.MIXED:
            wishes += shelf.for_value(rule)
    wishes += shelf.for_mixed([r for r in size.stacks if r.value is ValueRule.MIXED], words)
    asked = sum(wish.squares for wish in wishes)
    missing = size.squares - len(squares) - asked
    if missing > 0:
        wishes.append(shelf.for_count(missing, size))
    if not wishes:
        words.append("Nothing has to be added.")
    return ShoppingNote(tuple(wishes), tuple(words), _yardage(square_inches))


class _Shelf:
    """A bundle's squares sorted for counting."""

    def __init__(
        self, squares: Sequence[Swatch], background: Background, limits: Thresholds
    ) -> None:
        self._squares = sorted(squares, key=lambda s: (s.lab[0], s.id))
        self._values = np.array([s.lab[0] for s in self._squares])
        self._bands = value_bands(self._values)
        self._breaks = band_breaks(self._values)
        self._ground = background.lab[0]
        self._limits = limits
        self._taken = [False] * len(self._squares)
        self._without = _plentiful(self._squares)

    def summary(self) -> str:
        counts = Counter(self._bands)
        told = ", ".join(f"{counts[band]} {band}" for band in BANDS)
        return f"The bundle has {len(self._squares)} squares: {told}."

    def for_value(self, rule: StackRule) -> list[Wish]:
        """What a stack that asks for a value lacks; the squares that serve it are taken."""
        order = list(range(len(self._squares)))
        if rule.value is ValueRule.LIGHT:
            order.reverse()
        able = [
            n for n in order
            if not self._taken[n] and self._bands[n] == rule.value.value and self._holds(n, rule)
        ][: rule.squares]  # fmt: skip
        for n in able:
            self._taken[n] = True
        short = rule.squares - len(able)
        if short <= 0:
            return []
        darkest, lightest = self._range(rule.value.value, beside=rule.beside_background)
        one = len(able) == 1
        why = f"{rule.name} wants {rule.squares} {rule.value.value} squares"
        if rule.beside_background:
            do = "does" if one else "do"
            why += f" that hold against the background; {len(able)} {do}."
            if self._is_outside(rule.value.value, darkest, lightest):
                why += (
                    f" Hardly any {rule.value.value} cloth holds beside L* {self._ground:.0f}, so "
                    "these are of another value; try another background before you buy them."
                )
        else:
            why += f"; there {'is' if one else 'are'} {len(able)}."
        quiet = (PRINTS[0], PRINTS[1]) if rule.role is Role.FOCAL else self._rare_prints()
        return [self._wish(short, rule.name, darkest, lightest, quiet, why)]

    def for_mixed(self, rules: Sequence[StackRule], words: list[str]) -> list[Wish]:
        """What the mixed stacks lack: a value band of which there are few or none among the
        squares that are left for them."""
        wanted = sum(rule.squares for rule in rules)
        left = [n for n in range(len(self._squares)) if not self._taken[n]]
        if not wanted or not left:
            return []
        counts = Counter(self._bands[n] for n in left)
        names = " and ".join(rule.name for rule in rules)
        for band in BANDS:
            if counts[band] > MANY * len(left):
                words.append(
                    f"Too many {band}s for {names}: {counts[band]} of the {len(left)} squares "
                    "left for them."
                )
        wishes = []
        least = math.ceil(FEW * wanted)
        beside = _any_beside(rules)
        for band in BANDS:
            short = least - counts[band]
            darkest, lightest = self._range(band, beside=beside)
            if short <= 0:
                continue
            why = f"{names} would have only {counts[band]} {band} among {wanted}."
            if not counts[band]:
                why = f"{names} would have no {band} at all."
            wishes.append(self._wish(short, names, darkest, lightest, self._rare_prints(), why))
        return wishes

    def for_count(self, missing: int, size: PatternSize) -> Wish:
        """Squares that are missing at all: of whatever value holds."""
        darkest, lightest = self._range("", beside=_any_beside(size.stacks))
        why = f"Size {size.name} takes {size.squares} squares; so many more are missing."
        return self._wish(missing, "any stack", darkest, lightest, self._rare_prints(), why)

    def _holds(self, n: int, rule: StackRule) -> bool:
        if not rule.beside_background:
            return True
        return bool(abs(self._values[n] - self._ground) >= self._limits.holds)

    def _range(self, band: str, *, beside: bool) -> tuple[float, float]:
        """L* from and to that is of a value band (any for "") and, ``beside`` the background, holds
        against it; where none of the band does, what holds and is nearest to it."""
        low, high = self._of_band(band)
        if beside:
            holds = self._limits.holds
            below = (low, min(high, self._ground - holds))
            above = (max(low, self._ground + holds), high)
            low, high = max(below, above, key=lambda r: r[1] - r[0])
        if beside and high - low < _NARROWEST:
            low, high = self._beyond_background()
        elif band == "dark":
            low = max(low, min(high - _WIDTH, float(self._values.min(initial=high))))
        elif band == "light":
            high = min(high, max(low + _WIDTH, float(self._values.max(initial=low))))
        return float(math.ceil(low)), float(math.floor(high))

    def _is_outside(self, band: str, darkest: float, lightest: float) -> bool:
        """Whether a range of L* lies outside of a value band."""
        low, high = self._of_band(band)
        return not low <= (darkest + lightest) / 2 <= high

    def _of_band(self, band: str) -> tuple[float, float]:
        first, last = self._breaks
        low, high = _CLOTH
        if band == "dark":
            high = min(high, first) if math.isfinite(first) else min(high, 40.0)
        elif band == "light":
            low = max(low, last) if math.isfinite(last) else max(low, 70.0)
        elif band == "medium" and math.isfinite(first):
            low, high = (first, last) if last > first else (first - _WIDTH / 2, last + _WIDTH / 2)
        return low, high

    def _beyond_background(self) -> tuple[float, float]:
        above = self._ground + self._limits.holds
        if above + _NARROWEST <= _CLOTH[1]:
            return above, min(above + _WIDTH, _CLOTH[1])
        below = self._ground - self._limits.holds
        return max(_CLOTH[0], below - _WIDTH), below

    def _rare_prints(self) -> tuple[str, ...]:
        counts = Counter(print_class(square) for square in self._squares)
        rarest = min(PRINTS[1:], key=lambda p: (counts[p], PRINTS.index(p)))
        return (rarest,)

    def _wish(
        self,
        squares: int,
        stack: str,
        darkest: float,
        lightest: float,
        prints: tuple[str, ...],
        why: str,
    ) -> Wish:
        patches = example_colors((darkest + lightest) / 2, self._without)
        return Wish(squares, stack, darkest, lightest, self._without, prints, why, patches)


def example_colors(lightness: float, without: Sequence[str] = ()) -> tuple[Lab, ...]:
    """Return a colour of each hue family but those in ``without``, and a neutral, at one L*: as
    strong as prints usually are, and no stronger than a screen can show. No two bear one name, and
    none the name that a family in ``without`` goes by: a dark pink is a maroon as a dark red is."""
    taken = {describe_color(lab) for family in without for lab in _example(family, lightness)}
    found: list[Lab] = []
    for family in HUE_FAMILIES[1:]:
        if family not in without:
            shown = [lab for lab in _example(family, lightness) if describe_color(lab) not in taken]
            found += shown
            taken.update(describe_color(lab) for lab in shown)
    return (*found, (lightness, 0.0, 0.0))


def _example(family: str, lightness: float) -> list[Lab]:
    for chroma in _PATCH_CHROMA:
        angles = [
            angle for angle in range(0, 360, 5)
            if hue_family(_polar(lightness, chroma, angle)) == family
        ]  # fmt: skip
        if not angles:
            continue
        gaps = np.diff(angles, append=angles[0] + 360)
        start = (int(np.argmax(gaps)) + 1) % len(angles)
        ordered = angles[start:] + angles[:start]
        lab = _polar(lightness, chroma, ordered[len(ordered) // 2])
        linear = np.asarray(linear_from_lab(np.array(lab)))
        if linear.min() >= -0.002 and linear.max() <= 1.002:
            return [lab]
    return []


def _polar(lightness: float, chroma: float, degrees: float) -> Lab:
    angle = math.radians(degrees)
    return lightness, chroma * math.cos(angle), chroma * math.sin(angle)


def _say_small(sides: Sequence[float], wanted: float) -> list[str]:
    small = [side for side in sides if is_too_small(side, wanted)]
    if not small:
        return []
    told = " and ".join(f"{side:g}" for side in sorted(set(small)))
    squares = "Its squares" if len(small) == len(sides) else "Some of its squares"
    return [
        f"{squares} are of {told} in and do not give the pieces of the pattern, which cuts squares "
        f"of {wanted:g} in: take another pattern, or correct their size, before you buy."
    ]


def _say_large(sides: Sequence[float], wanted: float) -> list[str]:
    return [
        f"The pattern cuts squares of {wanted:g} in: {say_waste(side, wanted)}, so buy none larger."
        for side in sorted({side for side in sides if is_too_large(side, wanted)})
    ]


def _any_beside(rules: Sequence[StackRule]) -> bool:
    """Whether a square for these stacks may come to lie beside the background."""
    return any(rule.beside_background and rule.squares for rule in rules)


def _plentiful(squares: Sequence[Swatch]) -> tuple[str, ...]:
    families = [hue_family(square.lab) for square in squares]
    colored = [family for family in families if family != "neutral"]
    counts = Counter(colored)
    most = [f for f, n in counts.most_common(2) if n >= 3 and n > PLENTY * len(colored)]
    return tuple(sorted(most, key=HUE_FAMILIES.index))


def _yardage(square_inches: float) -> str:
    side = exact_inches(square_inches)
    told = []
    for said, amount, unit in (
        ("a fat quarter", Fraction(1), "fat quarters"),
        ("half a yard", Fraction(1, 2), "yards"),
    ):
        number = squares_given(amount, unit, side, own_side=side)
        told.append(f"{said} gives {count(number, 'square')}")
    return f"For squares of {float(side):g} in: {' and '.join(told)}."
