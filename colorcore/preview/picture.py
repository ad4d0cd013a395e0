"""The quilt as pixels: in colour, in value only, or as seen across a room."""

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import LUMINANCE, coded8_from_linear
from colorcore.color.viewing import ROOM_INCHES, filter_for_distance
from colorcore.errors import OutputError
from colorcore.preview.sewn import Sewn, SewnFacet

_FINER: Final = 2
_SEAM_SHADE: Final = 0.86
_FULL: Final = np.float32(65535)
_MOST_PIXELS: Final = 40_000_000


class View(StrEnum):
    """How a picture shows the quilt."""

    COLOR = "in colour"
    VALUE = "in value only"
    ROOM = "as seen across a room"


def paint(
    sewn: Sewn,
    pixels_per_inch: float,
    *,
    region: tuple[float, float, float, float] | None = None,
    view: View = View.COLOR,
    distance_inches: float = ROOM_INCHES,
) -> NDArray[np.uint8]:
    """Return a picture (h, w, 3), sRGB-coded, of a quilt or of a region of it.

    Parameters
    ----------
    pixels_per_inch : float
        Of the quilt.
    region : (left, top, right, bottom)
        In inches; the whole quilt by default.
    distance_inches : float
        From where it is seen, for ``View.ROOM``.

    Raises
    ------
    OutputError
        If the picture would have more than 40 million pixels at double resolution.
    """
    return as_seen(
        _paint_linear(sewn, pixels_per_inch, region or (0.0, 0.0, sewn.width, sewn.height)),
        pixels_per_inch,
        view,
        distance_inches,
    )


def paint_views(
    sewn: Sewn, pixels_per_inch: float, *, distance_inches: float = ROOM_INCHES
) -> dict[View, NDArray[np.uint8]]:
    """Return the whole quilt in every view, (h, w, 3) sRGB-coded, painted once.

    Raises
    ------
    OutputError
        As `paint`.
    """
    linear = _paint_linear(sewn, pixels_per_inch, (0.0, 0.0, sewn.width, sewn.height))
    return {view: as_seen(linear, pixels_per_inch, view, distance_inches) for view in View}


def as_seen(
    linear: NDArray[np.float32],
    pixels_per_inch: float,
    view: View,
    distance_inches: float = ROOM_INCHES,
) -> NDArray[np.uint8]:
    """Return linear light (h, w, 3) as an sRGB-coded picture of one view."""
    if view is View.VALUE:
        linear = np.repeat((linear @ LUMINANCE.astype(np.float32))[..., None], 3, axis=2)
    elif view is View.ROOM:
        linear = filter_for_distance(linear, pixels_per_inch, distance_inches, inhibition=False)
    return coded8_from_linear(np.clip(linear, 0, 1))


def _paint_linear(
    sewn: Sewn, pixels_per_inch: float, region: tuple[float, float, float, float]
) -> NDArray[np.float32]:
    import cv2

    left, top, right, bottom = region
    fine = pixels_per_inch * _FINER
    width = max(1, round((right - left) * pixels_per_inch)) * _FINER
    height = max(1, round((bottom - top) * pixels_per_inch)) * _FINER
    if width * height > _MOST_PIXELS:
        raise OutputError(
            f"A picture of {width // _FINER} x {height // _FINER} pixels is too large; "
            "ask for fewer pixels per inch."
        )
    # 16 bits tell light as finely as 8 bits of sRGB can show, and take half the room of floats.
    canvas = np.zeros((height, width, 3), dtype=np.uint16)
    seams = np.zeros((height, width), dtype=np.uint8)
    for name, facets in _by_cloth(sewn, region).items():
        cloth = sewn.cloths[name]
        linear = np.rint(cloth.linear(fine) * _FULL).astype(np.uint16)
        for facet in facets:
            _lay(canvas, facet, linear, cloth.whole, fine, left, top)
            outline = np.round((facet.polygon - (left, top)) * fine).astype(np.int32)
            cv2.polylines(seams, [outline.reshape(-1, 1, 2)], True, 1, 1)
    on_seam = seams > 0
    canvas[on_seam] = (canvas[on_seam] * _SEAM_SHADE).astype(np.uint16)
    size = (width // _FINER, height // _FINER)
    small = cv2.resize(canvas, size, interpolation=cv2.INTER_AREA)
    return np.multiply(small, np.float32(1 / _FULL), dtype=np.float32)


def _by_cloth(sewn: Sewn, region: tuple[float, float, float, float]) -> dict[str, list[SewnFacet]]:
    """Return the parts that lie in a region under the name of their cloth: one cloth at a time is
    held at the picture's resolution."""
    left, top, right, bottom = region
    found: dict[str, list[SewnFacet]] = {}
    for facet in sewn.facets:
        x0, y0, x1, y1 = facet.box
        if x0 < right and x1 > left and y0 < bottom and y1 > top:
            found.setdefault(facet.cloth, []).append(facet)
    return found


def _lay(
    canvas: NDArray[np.uint16],
    facet: SewnFacet,
    cloth: NDArray[np.uint16],
    whole: bool,
    scale: float,
    left: float,
    top: float,
) -> None:
    """Lay a facet's cloth on the canvas, whose top left is at (left, top) inches."""
    import cv2

    x0, y0, x1, y1 = facet.box
    px0, py0 = round((x0 - left) * scale), round((y0 - top) * scale)
    px1, py1 = round((x1 - left) * scale), round((y1 - top) * scale)
    size = (px1 - px0, py1 - py0)
    if size[0] < 1 or size[1] < 1:
        return
    patch = _crop(cloth, facet, whole, scale, size)
    cx0, cy0 = max(px0, 0), max(py0, 0)
    cx1, cy1 = min(px1, canvas.shape[1]), min(py1, canvas.shape[0])
    if cx1 <= cx0 or cy1 <= cy0:
        return
    seen = patch[cy0 - py0 : cy1 - py0, cx0 - px0 : cx1 - px0]
    target = canvas[cy0:cy1, cx0:cx1]
    if len(facet.polygon) == 4 and _is_box(facet):
        target[:] = seen
        return
    mask = np.zeros((size[1], size[0]), dtype=np.uint8)
    outline = np.round((facet.polygon - (x0, y0)) * scale).astype(np.int32)
    cv2.fillPoly(mask, [outline.reshape(-1, 1, 2)], 1)
    inside = mask[cy0 - py0 : cy1 - py0, cx0 - px0 : cx1 - px0] > 0
    target[inside] = seen[inside]


def _is_box(facet: SewnFacet) -> bool:
    x0, y0, x1, y1 = facet.box
    return {tuple(p) for p in facet.polygon.tolist()} == {(x0, y0), (x1, y0), (x1, y1), (x0, y1)}


def _crop(
    cloth: NDArray[np.uint16],
    facet: SewnFacet,
    whole: bool,
    scale: float,
    size: tuple[int, int],
) -> NDArray[np.uint16]:
    """Cut (size[1], size[0], 3) from the cloth at the facet's origin, turned as it is sewn."""
    width, height = size if facet.turn % 180 == 0 else size[::-1]
    x, y = round(facet.origin[0] * scale), round(facet.origin[1] * scale)
    if not whole:
        # A square ends: keep the piece within it.
        x = min(max(x, 0), max(cloth.shape[1] - width, 0))
        y = min(max(y, 0), max(cloth.shape[0] - height, 0))
    rows = (y + np.arange(height)) % cloth.shape[0]
    columns = (x + np.arange(width)) % cloth.shape[1]
    piece = cloth[np.ix_(rows, columns)]
    return np.rot90(piece, -facet.turn // 90, axes=(0, 1))


def side_by_side(
    pictures: Sequence[NDArray[np.uint8]], *, gap: int = 24, mount: int = 255
) -> NDArray[np.uint8]:
    """Return pictures (h, w, 3) in one row at one scale, their tops level, on a plain mount.

    Raises
    ------
    OutputError
        If there is no picture.
    """
    if not pictures:
        raise OutputError("There is no picture to set side by side.")
    height = max(p.shape[0] for p in pictures)
    width = sum(p.shape[1] for p in pictures) + gap * (len(pictures) - 1)
    mounted = np.full((height, width, 3), mount, dtype=np.uint8)
    x = 0
    for picture in pictures:
        mounted[: picture.shape[0], x : x + picture.shape[1]] = picture
        x += picture.shape[1] + gap
    return mounted
