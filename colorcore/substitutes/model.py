"""What a substitute is, how close it comes and what it would change."""

from dataclasses import dataclass
from enum import StrEnum

from colorcore.comparing import PlanFigures
from colorcore.stacking import Plan
from colorcore.swatch import Swatch


class Origin(StrEnum):
    """Where a candidate comes from."""

    STASH = "stash"
    SPARE = "spare square"
    BUNDLE = "other bundle"


@dataclass(frozen=True, eq=False)
class Candidate:
    """A fabric that could stand in.

    ``name`` as the maker finds it; ``place`` where it is kept, or which bundle it lies in;
    ``squares`` how many squares of the plan's size it gives, and ``amount`` that in words;
    ``trust`` the grade A to D of its measurement, "" if not known; ``reference`` what its colour
    rests on; ``entry`` its number in the stash, None if it does not come from there.
    """

    name: str
    origin: Origin
    swatch: Swatch
    squares: int
    amount: str = ""
    place: str = ""
    trust: str = ""
    reference: str = ""
    entry: int | None = None

    @property
    def full_name(self) -> str:
        """The name and, of a square of another bundle, which: each bundle has a B3 of its own."""
        whose = f" of {self.place}" if self.origin is Origin.BUNDLE and self.place else ""
        return f"{self.name}{whose}"


@dataclass(frozen=True)
class Closeness:
    """How near a candidate comes to the original.

    ``delta_e`` CIEDE2000; ``cmc`` CMC(2:1) of ISO 105-J03 with the original as the standard;
    ``grade`` of the grey scale for change in colour, ISO 105-A02; ``lightness`` candidate less
    original in L*, with ``lightness_sd`` one standard deviation of it; ``value_spread`` candidate
    less original in L*; ``octaves`` by which its print is larger (negative: smaller), None if
    either reads as a solid or its size is not known; ``prints`` how far the colours within the
    two prints lie apart, each around its own mean, in CIELAB units; ``palette`` how far the colours
    of the one lie from the nearest of the other, by their shares, in CIEDE2000.
    """

    delta_e: float
    cmc: float
    grade: str
    lightness: float
    lightness_sd: float
    value_spread: float
    octaves: float | None
    prints: float
    palette: float


@dataclass(frozen=True, eq=False)
class Outcome:
    """What dealing again with the candidate in the original's stack gives.

    ``moved`` are (square, from, to) of other squares; ``figures`` of the new plan; ``verdict`` the
    candidate's own, and ``delta_l`` its distance to the background in L*.
    """

    plan: Plan
    figures: PlanFigures
    moved: tuple[tuple[str, str, str], ...]
    verdict: str
    delta_l: float


@dataclass(frozen=True, eq=False)
class Substitute:
    """A candidate with how close it comes and what it would change.

    ``score`` orders the substitutes of one kind, 0 the best; ``changes`` are sentences; ``outcome``
    is None if no deal is possible with it, and ``changes`` say why.
    """

    candidate: Candidate
    closeness: Closeness
    score: float
    outcome: Outcome | None
    changes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Substitutes:
    """What would serve instead of ``original``, which lies in ``stack``.

    ``looks`` look like it; ``job`` do its job; both best first. ``notes`` say what had to be left
    out and why; ``before`` are the figures of the plan as it is.
    """

    original: Swatch
    stack: str
    role: str
    value: str
    verdict: str
    delta_l: float
    before: PlanFigures
    looks: tuple[Substitute, ...]
    job: tuple[Substitute, ...]
    notes: tuple[str, ...]
