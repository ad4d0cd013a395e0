"""The templates of the sheets: every word from outside escaped, and a missing value an error."""

import re
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from colorcore import wording
from colorcore.color.css import css_color
from colorcore.flags import describe
from colorcore.wording import ADDRESS

_TAG: Final = re.compile(r"(<[^>]*>)")
_APART: Final = re.compile(r"<(/?)(svg|style|title)\b")


def sheet_environment() -> Environment:
    """Return an environment over the templates, with the words that all sheets share."""
    environment = Environment(
        loader=PackageLoader("colorcore.sheets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        number=wording.number,
        number_beside=wording.number_beside,
        listing=wording.listing,
        sentence=wording.sentence,
        percent=wording.percent,
        css_color=css_color,
        flag=describe,
    )
    environment.globals.update(count=wording.count, verdict_words=wording.VERDICT_WORDS)
    return environment


def whole_addresses(page: str) -> str:
    """Return a page in which no line ends within an address such as 2-B3. Drawings set each of
    their words by itself and stay as they are."""
    parts = _TAG.split(page)
    within: list[str] = []
    for n, part in enumerate(parts):
        if n % 2 == 0:
            if not within:
                parts[n] = ADDRESS.sub(r'<span class="whole">\g<0></span>', part)
        elif opened := _APART.match(part):
            if opened[1]:
                within = within[:-1]
            elif not part.endswith("/>"):
                within.append(opened[2])
    return "".join(parts)


def style(*names: str) -> Markup:
    """Return style sheets of the templates' folder, one after the other."""
    folder = files("colorcore.sheets").joinpath("templates")
    return Markup("".join(folder.joinpath(f"{name}.css").read_text("utf-8") for name in names))
