"""What undoing the light takes: references, and what a calibration gives back."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import linear_from_lab
from colorcore.errors import ColorError

PAPER_REFLECTANCE: Final = 0.88
"""Matt white paper, L* 95."""
GREY_CARD_REFLECTANCE: Final = 0.18
"""The photographer's grey card, L* 49.5."""

KINDS: Final = ("paper", "grey card", "chart", "fabric")

_DEFAULT_SD: Final[dict[str, tuple[float, float, float]]] = {
    "paper": (0.7, 0.5, 1.0),
    "grey card": (0.7, 0.5, 0.7),
    "chart": (0.4, 0.4, 0.4),
    "fabric": (0.5, 0.4, 0.4),
}


@dataclass(frozen=True, eq=False, kw_only=True)
class Reference:
    """Something of known reflectance in the photo.

    Attributes
    ----------
    kind : str
        ``paper``, ``grey card``, ``chart`` or ``fabric``.
    outline : (K, 2)
        Polygon in pixels of the upright picture; for a chart the four corners of its grid of
        patches, in any order that runs around it.
    lab : (L*, a*, b*) or None
        Known CIELAB (D65, 2 degrees). None takes the usual value of its kind; a fabric needs one.
    lab_sd : (3,) or None
        One standard deviation of ``lab``; None takes the usual doubt of its kind.
    found : bool
        True if it was found in the photo rather than pointed at.
    """

    kind: str
    outline: NDArray[np.float64]
    lab: tuple[float, float, float] | None = None
    lab_sd: tuple[float, float, float] | None = None
    found: bool = False

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ColorError(
                f"a reference is one of {', '.join(KINDS)}, not {self.kind!r}: choose one of these"
            )
        outline = np.asarray(self.outline, dtype=np.float64)
        if outline.ndim != 2 or outline.shape[0] < 3 or outline.shape[1] != 2:
            raise ColorError(
                f"the outline of a reference needs at least three points x,y; the {self.kind} "
                f"has an array of shape {outline.shape}"
            )
        if not np.all(np.isfinite(outline)):
            raise ColorError(f"the outline of the {self.kind} holds a number that is not finite")
        object.__setattr__(self, "outline", outline)
        if self.kind == "fabric" and self.lab is None:
            raise ColorError("a fabric used as a reference needs its measured L*, a*, b*")
        if self.lab is not None and not (
            np.all(np.isfinite(self.lab)) and 1.0 <= self.lab[0] <= 105.0
        ):
            raise ColorError(f"L* of a reference lies between 1 and 105, not at {self.lab[0]}")

    @property
    def linear(self) -> NDArray[np.float64]:
        """Linear light (3,) that the reference shows under the ideal light; a fabric's or grey's
        known colour, 0.88 or 0.18 where none is given. A chart has none of its own: 0.18."""
        if self.lab is not None:
            return np.asarray(linear_from_lab(np.array(self.lab)), dtype=np.float64)
        level = PAPER_REFLECTANCE if self.kind == "paper" else GREY_CARD_REFLECTANCE
        return np.full(3, level)

    @property
    def doubt(self) -> tuple[float, float, float]:
        """One standard deviation of L*, a*, b*."""
        return self.lab_sd if self.lab_sd is not None else _DEFAULT_SD[self.kind]
