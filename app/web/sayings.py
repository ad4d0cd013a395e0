"""What backgrounds and files are called on the pages, and what is said of a photo."""

from __future__ import annotations

import logging
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Final

from colorcore.errors import BundleError, ColorError, FindingError
from colorcore.project import ProjectPhoto
from colorcore.wording import file_name, sentence

# The first page is shown before colours get their names.
if TYPE_CHECKING:
    from colorcore.contrast import Background

_UNFORESEEN: Final = (
    "Something went wrong in the program itself. Nothing of yours is lost: undo the newest step, "
    "or open another page and come back."
)
_log = logging.getLogger("bundlestacks")


def background_words(background: Background) -> str:
    """Return a background's colour and value in words: ``off-white, L* 95``."""
    from colorcore.color.naming import describe_color

    return f"{describe_color(background.lab)}, L* {background.lab[0]:.0f}"


def background_title(background: Background) -> str:
    """Return what to call a background: a bare colour code goes by its words first."""
    label = background.label
    is_code = label.startswith("#") or label.endswith(")")
    return f"{background_words(background).partition(',')[0]}, {label}" if is_code else label


def shown_name(name: str) -> str:
    """Return what a file is called on the pages: only the last part of its name is kept."""
    return file_name(name)[:120] or "photo"


def already_here(name: str, known: ProjectPhoto) -> str:
    """Return the sentence on a file that holds the same picture as one of the project."""
    shown = shown_name(name)
    again = "" if shown == known.name else f"the same picture as {known.name}, which is "
    return f"{shown} is {again}in this project already; it was not added again."


def about_photo(item: ProjectPhoto, index: int, error: BundleError) -> str:
    """Return the sentence of an error with its photo named and where to see to it."""
    sentence = str(error)
    named = sentence if item.name in sentence else f"{item.name}: {sentence}"
    if not isinstance(error, FindingError):
        return named
    return (
        f"Photo {index + 1}, {named} Take this photo out on the page 'Photos', or draw its squares "
        "on the page 'Check the squares'; one that shows the background's cloth belongs on the "
        "page 'Stash'."
    )


def told_sentence(error: Exception) -> str:
    """Return what a maker is told of a fault; of what nobody foresaw kind and place are logged."""
    if isinstance(error, ColorError):
        return sentence(str(error))
    if isinstance(error, BundleError):
        # May begin with a file's name, which stays as it is.
        return str(error)
    # The error's own words may hold a file's name: only its kind and place are logged.
    last = traceback.extract_tb(error.__traceback__)[-1]
    place = f"{Path(last.filename).name}:{last.lineno}"
    _log.error("%s in %s at %s", type(error).__name__, last.name, place)
    return f"{_UNFORESEEN} ({type(error).__name__}, {place})"
