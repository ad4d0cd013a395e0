"""The templates of the sheets: every word from outside escaped, and a missing value an error."""

from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from colorcore import wording
from colorcore.color.css import css_color
from colorcore.flags import describe


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


def style(*names: str) -> Markup:
    """Return style sheets of the templates' folder, one after the other."""
    folder = files("colorcore.sheets").joinpath("templates")
    return Markup("".join(folder.joinpath(f"{name}.css").read_text("utf-8") for name in names))
