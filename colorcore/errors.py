"""One tree of errors; every one carries a sentence that says what, where and what to do.

BundleError
├── PhotoError      a picture file that cannot be used
├── FindingError    no squares where squares were asked for, or hints that contradict the photo
│   └── NothingFoundError   a photo that shows none
├── ColorError      a colour, background or reference that cannot be understood
├── BundleFileError a bundle or plan file that cannot be read
├── PatternError    a pattern file that cannot be read, or that contradicts itself
├── DealError       a bundle that cannot fill the pattern's stacks
├── CuttingError    pieces that cannot be had from a square or a length of fabric
├── ProjectError    a project that cannot be read or written
├── StashError      the maker's own fabrics cannot be read or written
└── OutputError     a place that cannot be written
"""

from enum import StrEnum


class Lack(StrEnum):
    """What the maker could say that would mend it; how to say it, the terminal and the pages know
    each for itself."""

    GRID = "rows and columns"
    SIDE = "side of the squares"
    SUBJECT = "what a photo shows"
    AMOUNT = "how much there is of a fabric"
    STASH_FILE = "stash file"
    PROJECT_FILE = "file of projects"


class BundleError(Exception):
    """Base of every error that a user is meant to read.

    ``lack`` is what the maker could say that would mend it; the sentence then ends with that, in
    plain words.

    Raises
    ------
    ValueError
        If the sentence is empty: an error without words helps nobody.
    """

    def __init__(self, sentence: str, lack: Lack | None = None) -> None:
        if not sentence.strip():
            raise ValueError("an error needs a sentence")
        super().__init__(sentence)
        self.lack = lack


class PhotoError(BundleError):
    """A picture file that cannot be used."""


class FindingError(BundleError):
    """No squares where squares were asked for, or hints that contradict the photo."""


class NothingFoundError(FindingError):
    """A photo that shows no squares."""


class ColorError(BundleError):
    """A colour, background or reference that cannot be understood."""


class BundleFileError(BundleError):
    """A bundle or plan file that cannot be read."""


class PatternError(BundleError):
    """A pattern file that cannot be read, or that contradicts itself."""


class DealError(BundleError):
    """A bundle that cannot fill the pattern's stacks."""


class CuttingError(BundleError):
    """Pieces that cannot be had from a square or a length of fabric."""


class StashError(BundleError):
    """The maker's own fabrics cannot be read or written."""


class ProjectError(BundleError):
    """A project that cannot be read or written."""


class OutputError(BundleError):
    """A place that cannot be written."""
