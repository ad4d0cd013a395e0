"""What was measured of one square."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class PaletteColor:
    """One colour of a print: CIELAB (D65, 2 degrees) and its share of the area, 0 to 1."""

    lab: tuple[float, float, float]
    share: float


@dataclass(frozen=True, eq=False)
class Swatch:
    """What was measured of one square.

    Attributes
    ----------
    id : str
        Address, unique in the bundle: ``B3``, or ``2-B3`` when there are several photos.
    photo : int
        Index into the bundle's photos.
    row, column : int
        Zero-based place in the layout.
    corners : four (x, y)
        Pixels of the upright photo, clockwise from the square's own top left.
    lab, lab_sd : (L*, a*, b*)
        Reads-as colour in CIELAB (D65, 2 degrees) and one standard deviation of each.
    value_spread : float
        L* units between the light and the dark parts of the print (90th less 10th percentile at
        reading distance); near 0 for a solid.
    palette : tuple of PaletteColor
        Largest share first; shares sum to 1.
    print_scale_inches : float or None
        Size of the repeat or motif; None for what reads as a solid.
    stripe_degrees : float or None
        Direction of stripes, 0 to 180 counter-clockwise from the square's top edge; None if none.
    busyness : float
        How much fine contrast there is: standard deviation of L* at reading distance.
    reads_as_solid : bool
        Whether the print disappears at reading distance.
    fabric : int
        Equal numbers mean the same fabric; -1 before grouping.
    confidence : float
        0 to 1: the chance that this is a square, rightly outlined.
    flags : tuple of str
        Keys of ``colorcore.flags.FLAGS``.
    side_inches : float
        Nominal side of the precut square.
    picture : uint8 array (N, N, 3)
        The square straightened, light undone, sRGB-coded; N / side_inches pixels per inch.
    valid : bool array (N, N) or None
        True where the picture shows this square (not covered, glaring or cut off); None: all.
    order_sd : float or None
        One standard deviation of L* against other squares of the same photo: what moves all of
        them alike (the reference, the tone curve) does not count. None: as for L* itself.
    """

    id: str
    photo: int
    row: int
    column: int
    corners: tuple[tuple[float, float], ...]
    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float]
    value_spread: float
    palette: tuple[PaletteColor, ...]
    print_scale_inches: float | None
    stripe_degrees: float | None
    busyness: float
    reads_as_solid: bool
    fabric: int
    confidence: float
    flags: tuple[str, ...]
    side_inches: float
    picture: NDArray[np.uint8] = field(repr=False)
    valid: NDArray[np.bool_] | None = field(default=None, repr=False)
    order_sd: float | None = None
