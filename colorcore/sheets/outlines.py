"""The photo with every square outlined and addressed, as SVG over the picture.

Outlines are a light line on a dark one and addresses dark on a light tag with a dark edge, so both
can be read over any print, also printed in black and white.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from colorcore.bundle import SeenAgain
from colorcore.geometry import Quad, center, mean_side
from colorcore.sheets.pictures import Picture, jpeg_uri, shrink
from colorcore.swatch import Swatch


@dataclass(frozen=True)
class Tag:
    """A square's outline and the place of its tag, in the coordinates of the drawing.

    ``points`` as SVG wants them; (``x``, ``y``) the middle of the tag, ``width`` and ``height``
    its size; ``mark`` the stack's number or dash, "" for none; ``picture`` a ``data:`` address to
    fill the outline, "" where the photo shows it; ``again`` for a square that is counted in another
    photo.
    """

    address: str
    mark: str
    points: str
    x: float
    y: float
    width: float
    height: float
    picture: str = ""
    again: bool = False

    @property
    def font(self) -> float:
        """Height of the letters."""
        return self.height * 0.78

    @property
    def split(self) -> float:
        """Left edge of the part of the tag that holds the mark."""
        return self.x + self.width / 2 - self.height


@dataclass(frozen=True)
class Drawing:
    """A picture (``data:`` address, or "" if there is none) with the tags that lie over it."""

    picture: str
    width: float
    height: float
    tags: tuple[Tag, ...]
    words: str
    caption: str
    line: float

    @property
    def shows_again(self) -> bool:
        """Whether a square shows that is counted in another photo."""
        return any(tag.again for tag in self.tags)


def outlined_photo(
    photo: Picture,
    pixels_across: int,
    squares: Sequence[Swatch],
    marks: Mapping[str, str],
    *,
    words: str,
    caption: str,
    again: Sequence[SeenAgain] = (),
) -> Drawing:
    """Return a photo with its squares outlined, also those that it shows ``again`` and that are
    counted in another one: these with the address that they have there.

    ``photo`` (h, w, 3) is sRGB-coded and may be a reduction of the picture, ``pixels_across`` wide,
    that the squares' corners are given in; ``marks`` are stack numbers by address.
    """
    height, width = photo.shape[:2]
    return Drawing(
        picture=jpeg_uri(photo, 84),
        width=width,
        height=height,
        tags=_photo_tags(squares, again, marks, width / pixels_across),
        words=words,
        caption=caption,
        line=max(width, height) / 640,
    )


def layout_map(
    squares: Sequence[Swatch],
    marks: Mapping[str, str],
    *,
    words: str,
    caption: str,
    again: Sequence[SeenAgain] = (),
) -> Drawing:
    """Return the layout drawn from rows, columns and the straightened squares, for when the photo
    is not at hand; where squares show ``again``, of their address alone."""
    side, gap = 100.0, 6.0
    step = side + gap
    tags = []
    lying: list[Swatch | SeenAgain] = [*squares, *again]
    for square in lying:
        x, y = gap + square.column * step, gap + square.row * step
        quad = np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
        if isinstance(square, SeenAgain):
            tags.append(_tag(square.square, marks.get(square.square, ""), quad, 24.0, again=True))
        else:
            picture = jpeg_uri(shrink(square.picture, 160))
            tags.append(_tag(square.id, marks.get(square.id, ""), quad, 24.0, picture))
    return Drawing(
        picture="",
        width=(max((s.column for s in lying), default=0) + 1) * step + gap,
        height=(max((s.row for s in lying), default=0) + 1) * step + gap,
        tags=tuple(tags),
        words=words,
        caption=caption,
        line=1.2,
    )


def _photo_tags(
    squares: Sequence[Swatch],
    again: Sequence[SeenAgain],
    marks: Mapping[str, str],
    scale: float,
) -> tuple[Tag, ...]:
    """Return one tag a square, all of one height: a fifth of the usual side of a square, less
    where long addresses would reach beyond their square."""
    names = [*(s.id for s in squares), *(s.square for s in again)]
    if not names:
        return ()
    corners = [*(s.corners for s in squares), *(s.corners for s in again)]
    quads = [np.asarray(c, dtype=np.float64) * scale for c in corners]
    side = float(np.median([mean_side(q) for q in quads]))
    widest = max(_ems(name, marks.get(name, "")) for name in names)
    height = min(side * 0.21, side * 0.86 / widest)
    return tuple(
        _tag(name, marks.get(name, ""), quad, height, again=number >= len(squares))
        for number, (name, quad) in enumerate(zip(names, quads, strict=True))
    )


def _tag(
    address: str, mark: str, quad: Quad, height: float, picture: str = "", *, again: bool = False
) -> Tag:
    x, y = center(quad)
    return Tag(
        address=address,
        mark=mark,
        points=" ".join(f"{px:.1f},{py:.1f}" for px, py in quad),
        x=round(float(x), 1),
        y=round(float(y), 1),
        width=round(height * _ems(address, mark), 1),
        height=round(height, 1),
        picture=picture,
        again=again,
    )


def _ems(address: str, mark: str) -> float:
    """Width of a tag in heights of the tag; capitals and figures are taken as 0.56 of it wide."""
    return 0.56 * len(address) + 0.5 + (1.0 if mark else 0.0)


def reading_order(squares: Sequence[Swatch]) -> str:
    """Return which squares lie in which row, in words, for those who cannot see the picture."""
    rows: dict[int, list[Swatch]] = {}
    for swatch in squares:
        rows.setdefault(swatch.row, []).append(swatch)
    parts = []
    for row in sorted(rows):
        line = sorted(rows[row], key=lambda s: s.column)
        first, last = line[0].id, line[-1].id
        parts.append(first if first == last else f"{first} to {last}")
    return "; ".join(parts)
