"""Every shape that a patch of a pattern can have, with the keys of a pattern file where they lie.

Drawn from the facets that quilts are made of, so that what is drawn is what a file gives.
"""

from fractions import Fraction
from typing import Final

import numpy as np

from colorcore.pattern.layout import area_and_center
from colorcore.pattern.patches import FlippedCorner, Patch, Shape, Strip, facets
from colorcore.sheets.cutting_drawings import SCALE, label, open_drawing, polygon, rect

_W: Final = Fraction(8)
_FILLS: Final = ("#d4d4d2", "#ffffff", "#ececea", "#ffffff")
_ABREAST: Final = 3
_CELL: Final = 112.0
_HEAD: Final = 15.0
WORDS: Final = (
    "The six shapes of patches, each lettered with the keys that name its fabrics in a pattern file"
)


def example_patch(shape: Shape) -> Patch:
    """Return a patch of a shape whose fabrics are called by the keys that name them in a file."""
    half = _W / 2
    if shape is Shape.GEESE:
        return Patch("", shape, _W, half, ("goose", "sky", "right_sky"))
    if shape is Shape.HALF_SQUARE:
        return Patch("", shape, _W, _W, ("upper_left", "lower_right"))
    if shape is Shape.QUARTER_SQUARE:
        return Patch("", shape, _W, _W, ("top", "right", "bottom", "left"))
    if shape is Shape.FLIPPED_CORNERS:
        corners = (FlippedCorner("top left", half, "corner"),)
        return Patch("", shape, _W, _W, ("fabric",), corners)
    if shape is Shape.STRIP_SET:
        strips = tuple(Strip(_W / 3, f"strip {n}") for n in (1, 2, 3))
        return Patch("", shape, _W, _W, (), strips=strips)
    return Patch("", shape, _W, _W, ("fabric",))


def draw_shapes() -> str:
    """Return all shapes side by side as a self-contained SVG document."""
    shapes = list(Shape)
    down = -(-len(shapes) // _ABREAST)
    out = [open_drawing(0, 0, _ABREAST * _CELL, down * _CELL, WORDS)]
    out.append(rect(0, 0, _ABREAST * _CELL, down * _CELL, fill="#fff", line=0))
    for n, shape in enumerate(shapes):
        row, column = divmod(n, _ABREAST)
        left, top = column * _CELL + 16, row * _CELL + _HEAD + 6
        out.append(label(column * _CELL + _CELL / 2, top - 6, 7.5, shape.value))
        patch = example_patch(shape)
        for fill, facet in zip(_FILLS, facets(patch), strict=False):
            points = [(left + float(x) * SCALE, top + float(y) * SCALE) for x, y in facet.polygon]
            _, middle = area_and_center(np.array(points))
            out.append(polygon(points, fill, 0.6))
            # Within a triangle the middle lies where it is wide enough for a short word.
            out.append(label(middle[0], middle[1] + 1.8, 5.2, facet.fabric))
    return "".join(out) + "</svg>\n"
