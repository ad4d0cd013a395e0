"""The making sheet as parts of ``plan.html``."""

from functools import cache
from typing import Final

from jinja2 import Template
from markupsafe import Markup

from colorcore.errors import OutputError
from colorcore.sheets.cutting_parts import Content, Drawn
from colorcore.sheets.environment import sheet_environment, style
from colorcore.sheets.pictures import jpeg_uri
from colorcore.sheets.plan_page import Section

_PARTS: Final = (
    ("top", "The finished top"),
    ("checks", "Checked for cutting and sewing"),
    ("cutting", "Cutting the squares"),
    ("yardage", "Cutting yardage"),
    ("units", "Units"),
    ("map", "Where every piece goes"),
    ("sewing", "Sewing order"),
    ("finishing", "Finishing"),
)


def making_sections(content: Content) -> tuple[Section, ...]:
    """Return the parts that follow the stacks on the plan's page."""
    parts = _template().module
    return tuple(
        Section(anchor, heading, Markup(getattr(parts, anchor)(content)))
        for anchor, heading in _PARTS
    )


@cache
def _template() -> Template:
    environment = sheet_environment()
    environment.filters["drawing"] = _drawing
    environment.globals["picture"] = _picture
    environment.globals["style"] = style("cutting")
    return environment.get_template("cutting.html.j2")


def _drawing(svg: str) -> Markup:
    # Drawings are made by us, with every word from outside escaped.
    return Markup(svg)


def _picture(drawn: Drawn) -> str:
    if not drawn.jpeg:
        raise OutputError(f"There is no picture of {drawn.words}.")
    return jpeg_uri(drawn.jpeg)
