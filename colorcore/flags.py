"""Every flag that a square can carry, worded once for the terminal, the sheets and the pages."""

from typing import Final

FLAGS: Final[dict[str, str]] = {
    "cut-off": "cut off by the edge of the photo",
    "covered": "partly covered by another square or thing",
    "placed-by-layout": "seen only faintly; placed where the rows and columns say",
    "unsure-outline": "the outline may be off",
    "overlapping": "its outline and another one cover the same cloth; one of the two is wrong",
    "clipped": "parts are too bright or too dark for the camera to tell",
    "glare": "glare was left out of the measurement",
    "shadow": "lies in a shadow",
    "sunlit": "lies in a patch of brighter light",
    "few-pixels": "too small in the photo to measure its print",
    "no-scale": "how large it is could not be told, so the size of its print is a guess",
    "strong-print": "a large print: its pieces differ much in value",
    "no-reference": "measured without a reference: compare it only within this photo",
    "far-light": "the light there had to be extrapolated",
    "between-bands": "could as well belong to the next value band",
}


def describe(flag: str) -> str:
    """Return the words for a flag of the registry.

    Raises
    ------
    KeyError
        If the flag is not registered.
    """
    return FLAGS[flag]
