"""All files of a making, made together."""

import re
from collections.abc import Sequence

from colorcore.contrast import Thresholds
from colorcore.making import Making
from colorcore.preview import View, paint, paint_views, quilt_svg, side_by_side
from colorcore.sheets.cutting_content import sheet_content
from colorcore.sheets.cutting_page import making_sections
from colorcore.sheets.cutting_parts import Content
from colorcore.sheets.cutting_pdf import making_pdf
from colorcore.sheets.pictures import Picture, encode_picture
from colorcore.sheets.plan_page import plan_page
from colorcore.sheets.view import view_plan

_PICTURE_NAMES = {
    View.COLOR: "quilt.png",
    View.VALUE: "quilt-value.png",
    View.ROOM: "quilt-room.png",
}
_LONG_SIDE = 1800
_UNIT_SIDE = 600


def making_files(
    making: Making,
    *,
    photos: Sequence[Picture | None],
    thresholds: Thresholds | None = None,
    metric: bool = False,
    paper: str = "us-letter",
    beside: Making | None = None,
    units: bool = False,
    content: Content | None = None,
) -> dict[str, bytes]:
    """Return name and content of every file of a making: pictures, ``plan.html``, ``plan.pdf``.

    ``photos`` as for the plan's page; ``beside`` is another plan of the same quilt or of another,
    drawn beside this one at the same scale (``side-by-side.png``); ``units`` adds a PNG and an SVG
    of each unit; ``content`` is what the sheet says, if that has been put together already, and
    ``metric`` counts only without it.

    Raises
    ------
    OutputError
        As ``making_pdf``.
    """
    sewn = making.sewn
    distance = (thresholds or Thresholds()).viewing_inches
    scale = _LONG_SIDE / max(sewn.width, sewn.height)
    tops = paint_views(sewn, scale, distance_inches=distance)
    if content is None:
        content = sheet_content(making, metric=metric, tops=tops)
    words = f"{making.plan.pattern}: the finished top from the photographed fabrics"
    files = {name: encode_picture(tops[view], ".png") for view, name in _PICTURE_NAMES.items()}
    files["quilt.svg"] = quilt_svg(sewn, words=words).encode("utf-8")
    if units:
        files |= _unit_files(making)
    if beside is not None:
        files["side-by-side.png"] = encode_picture(draw_beside(making, beside), ".png")
    page = plan_page(
        view_plan(making.plan, making.bundle, making.pattern),
        photos=photos,
        thresholds=thresholds,
        sections=making_sections(content),
    )
    files["plan.pdf"] = making_pdf(content, paper=paper)
    files["plan.html"] = page.encode("utf-8")
    return files


def _unit_files(making: Making) -> dict[str, bytes]:
    """Return a PNG and an SVG of one of each unit, from the fabrics that it is sewn of.

    A unit is shown where it first lies in the quilt, by preference neither turned nor mirrored.
    """
    files = {}
    for number, name in enumerate(making.layout.units, 1):
        places = [p for p in making.layout.places if p.name == name]
        if not places:
            continue
        place = min(places, key=lambda p: (p.mirrored, p.turn))
        left, top, right, bottom = place.box
        scale = _UNIT_SIDE / max(right - left, bottom - top)
        plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "unit"
        stem = f"unit-{number}-{plain}"
        picture = paint(making.sewn, scale, region=place.box)
        files[f"{stem}.png"] = encode_picture(picture, ".png")
        drawing = quilt_svg(making.sewn, words=f"{name} from your fabrics", region=place.box)
        files[f"{stem}.svg"] = drawing.encode("utf-8")
    return files


def draw_beside(one: Making, other: Making, *, long_side: int = 1400) -> Picture:
    """Return two plans side by side at one scale, (h, w, 3) sRGB-coded: in colour above, in value
    only below; the longer side of a top has ``long_side`` pixels."""
    import numpy as np

    largest = max(one.sewn.width, one.sewn.height, other.sewn.width, other.sewn.height)
    scale = long_side / largest
    rows = [
        side_by_side([paint(m.sewn, scale, view=view) for m in (one, other)])
        for view in (View.COLOR, View.VALUE)
    ]
    gap = np.full((24, rows[0].shape[1], 3), 255, dtype=np.uint8)
    return np.concatenate([rows[0], gap, rows[1]])
