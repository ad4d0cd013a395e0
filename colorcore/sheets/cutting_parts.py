"""What the making sheet says: words, tables and drawings, ready to be laid out."""

from dataclasses import dataclass, field
from typing import Final

from colorcore.sheets.pictures import Picture, encode_picture

_QUALITY: Final = 90


@dataclass(frozen=True)
class Drawn:
    """A drawing (SVG) or a picture (the content of a JPEG file) with its words.

    Page, PDF and screen carry the same file: it is encoded once, and pixels would take ten times
    the room for as long as a sheet is kept.
    """

    words: str
    svg: str = ""
    jpeg: bytes = field(default=b"", compare=False, repr=False)


def pictured(words: str, picture: Picture) -> Drawn:
    """Return a picture (h, w, 3), sRGB-coded, with its words."""
    return Drawn(words, jpeg=encode_picture(picture, ".jpg", _QUALITY))


@dataclass(frozen=True)
class StackRow:
    """One stack: what it takes, and its squares as (address, value, picture, verdict); the verdict
    is "" for one that holds."""

    name: str
    takes: str
    squares: tuple[tuple[str, str, Drawn, str], ...]


@dataclass(frozen=True)
class Check:
    """Something that was checked: ``ok`` or to be looked at."""

    ok: bool
    text: str


@dataclass(frozen=True)
class SquareKind:
    """Squares that are cut alike."""

    heading: str
    drawing: Drawn
    squares: tuple[str, ...]
    gives: tuple[str, ...]
    left_over: str
    note: str = ""


@dataclass(frozen=True)
class StackPage:
    """How one stack is cut."""

    name: str
    sentence: str
    kinds: tuple[SquareKind, ...]
    spare: str
    proof: str


@dataclass(frozen=True)
class YardagePage:
    """What is cut from one yardage: rows of (strips, height, what each gives, how many)."""

    name: str
    buy: str
    rows: tuple[tuple[str, str, str], ...]
    enough: str
    ok: bool


@dataclass(frozen=True)
class Recipe:
    """How one unit is made."""

    name: str
    make: str
    size: str
    drawing: Drawn
    photo: Drawn | None
    pieces: tuple[tuple[str, str, str], ...]
    steps: tuple[str, ...]
    pressing: tuple[str, ...]
    is_section: bool


@dataclass(frozen=True)
class Row:
    """One row of the quilt: units with the addresses of their pieces, in sewing order."""

    number: int
    units: tuple[tuple[str, str], ...]
    press: str


@dataclass(frozen=True)
class Legends:
    """How what is drawn and listed is to be read, said above it wherever it is shown."""

    cutting: str = (
        "Solid lines marked 1 are cut first, from edge to edge of the square; then each part along "
        "its dashed lines marked 2, and so on. Hatched or crossed out is left over. Sizes are cut "
        "sizes, seam allowances included."
    )
    marking: str = "From each fabric's value. Try a line on the cut-off, and see that it comes out."
    units: str = (
        "Letters are fabrics; greys are their values. An arrow shows the side to which a seam is "
        "pressed, a ring that either side will do."
    )
    rows: str = (
        "Lay the pieces of a row out in this order. Addresses joined by + meet in one unit; within "
        "a unit they run as its recipe draws it, from left to right and from the top down."
    )


@dataclass(frozen=True)
class Content:
    """The whole sheet; ``again`` is what photos and plan ask to look at again, for where no page
    with the stacks lies beside it."""

    title: str
    kicker: str
    lead: str
    pictures: tuple[Drawn, ...]
    facts: tuple[tuple[str, str], ...]
    again: tuple[str, ...]
    checks: tuple[Check, ...]
    stacks: tuple[StackRow, ...]
    cutting: tuple[StackPage, ...]
    yardage: tuple[YardagePage, ...]
    marking: tuple[tuple[str, str], ...]
    recipes: tuple[Recipe, ...]
    maps: tuple[Drawn, ...]
    rows: tuple[Row, ...]
    assembly: tuple[str, ...]
    threads: tuple[str, ...]
    fabrics: tuple[tuple[str, tuple[str, ...]], ...]
    shared: tuple[str, ...]
    finishing: tuple[str, ...]
    backing: tuple[Drawn, ...]
    shopping: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    footer: str
    legends: Legends = field(default=Legends())
