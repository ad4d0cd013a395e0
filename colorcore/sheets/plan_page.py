"""``plan.html``: the sheet that lies beside the bundle, one file with everything inside."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Template
from markupsafe import Markup

from colorcore import wording
from colorcore.bundle import Bundle
from colorcore.color.css import css_color
from colorcore.contrast import Background, Thresholds
from colorcore.sheets.environment import sheet_environment, style, whole_addresses
from colorcore.sheets.outlines import Drawing, layout_map, outlined_photo, reading_order
from colorcore.sheets.pictures import Picture, jpeg_uri, shrink
from colorcore.sheets.view import Card, PlanView

THUMBNAIL_SIDE = 224
PHOTO_SIDE = 1600
RIM = 0.025


@dataclass(frozen=True)
class Section:
    """A part of the sheet that another step brings: its heading and finished HTML."""

    anchor: str
    heading: str
    html: Markup


def plan_page(
    view: PlanView,
    *,
    photos: Sequence[Picture | None],
    thresholds: Thresholds | None = None,
    title: str = "",
    sections: Sequence[Section] = (),
) -> str:
    """Return the whole sheet as HTML.

    Parameters
    ----------
    view : PlanView
        The plan with its squares.
    photos : sequence of uint8 arrays (h, w, 3), sRGB-coded, or None
        One per photo of the bundle, of any size; None where the photo is not at hand.
    thresholds : Thresholds
        What the plan was judged by; the usual ones by default.
    title : str
        Heading; by default the pattern's name.
    sections : sequence of Section
        More parts, placed after the stacks.

    Raises
    ------
    ValueError
        If there is not one entry in ``photos`` for each photo of the bundle.
    """
    if len(photos) != len(view.bundle.photos):
        raise ValueError(f"{len(view.bundle.photos)} photos wanted, {len(photos)} given")
    marks = view.marks()
    limits = thresholds or Thresholds()
    page = _template().render(
        view=view,
        plan=view.plan,
        title=title or view.plan.pattern,
        style=style("sheet"),
        drawings=_drawings(view.bundle, photos, marks),
        mat=Markup(_mat(view.plan.background)),
        sections=sections,
        holds=limits.holds,
        melts=limits.melts,
        several=len(view.bundle.photos) > 1,
    )
    return whole_addresses(page)


@cache
def _template() -> Template:
    environment = sheet_environment()
    environment.filters["file_name"] = wording.file_name
    environment.filters["trusted"] = wording.trusted
    environment.globals.update(thumbnail=_thumbnail, grey=_grey)
    return environment.get_template("plan.html.j2")


def _thumbnail(card: Card) -> str:
    # The outermost rim shows pinked teeth and table between them; it was not measured either.
    picture = card.swatch.picture
    side = picture.shape[0]
    rim = round(side * RIM)
    return jpeg_uri(shrink(picture[rim : side - rim, rim : side - rim], THUMBNAIL_SIDE))


def _grey(card: Card) -> str:
    return css_color((card.lightness, 0.0, 0.0))


def _mat(background: Background) -> str:
    """Return what lies behind a thumbnail, as a CSS value: the background's colour or its print."""
    if background.picture is None:
        return css_color(background.lab)
    return f'{css_color(background.lab)} url("{jpeg_uri(shrink(background.picture, 300))}")'


def _drawings(
    bundle: Bundle, photos: Sequence[Picture | None], marks: Mapping[str, str]
) -> tuple[Drawing, ...]:
    drawings = []
    for index, (record, picture) in enumerate(zip(bundle.photos, photos, strict=True)):
        squares = [s for s in bundle.squares if s.photo == index]
        if not squares:
            continue
        caption = f"Photo {index + 1}, " if len(bundle.photos) > 1 else "Photo "
        caption += wording.file_name(record.path)
        words = (
            f"{caption}: {wording.count(len(squares), 'square')} addressed by row and column: "
            f"{reading_order(squares)}."
        )
        again = [s for s in bundle.seen_again if s.photo == index]
        if again:
            names = wording.listing([f"{s.address} is {s.square}" for s in again])
            words += f" Counted in another photo: {names}."
        if picture is None:
            caption += " (not at hand, so the places are drawn by row and column)"
            drawings.append(layout_map(squares, marks, words=words, caption=caption, again=again))
        else:
            small = shrink(picture, PHOTO_SIDE)
            drawings.append(
                outlined_photo(
                    small,
                    record.width,
                    squares,
                    marks,
                    words=words,
                    caption=caption,
                    again=again,
                )
            )
    return tuple(drawings)
