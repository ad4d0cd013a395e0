"""Between rows of the stash file and what they stand for."""

import base64
import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from typing import Any

from colorcore.bundle.checking import Checker
from colorcore.bundle.files import square_from_json, square_to_json
from colorcore.errors import StashError
from colorcore.stash.model import Kind, NewEntry, StashEntry
from colorcore.swatch import PaletteColor, Swatch

_JPEG = "data:image/jpeg;base64,"
_PNG = "data:image/png;base64,"


def jpeg_text(jpeg: bytes) -> str:
    """Return a JPEG file as a data URI."""
    return _JPEG + base64.b64encode(jpeg).decode("ascii")


def jpeg_from_text(uri: str) -> bytes:
    """Return the JPEG file that a data URI holds."""
    return base64.b64decode(uri.removeprefix(_JPEG))


def columns_from_entry(new: NewEntry) -> dict[str, Any]:
    """Return the columns of an entry, but its name, number and times."""
    measured = square_to_json(new.swatch)
    picture = measured.pop("picture")
    mask = measured.pop("valid")
    return {
        "kind": str(new.kind),
        "amount": str(new.amount),
        "unit": new.unit,
        "place": new.place,
        "note": new.note,
        "lightness": float(new.swatch.lab[0]),
        "a": float(new.swatch.lab[1]),
        "b": float(new.swatch.lab[2]),
        "measured": json.dumps(measured, allow_nan=False),
        "picture": jpeg_from_text(picture) if new.jpeg is None else new.jpeg,
        "valid": None if mask is None else base64.b64decode(mask.removeprefix(_PNG)),
        "reference": new.reference,
        "trust": new.trust,
        "source": new.source,
    }


@contextmanager
def _undamaged(row: sqlite3.Row) -> Iterator[None]:
    """Say in one sentence that a row holds what was never written to it."""
    try:
        yield
    except (ValueError, TypeError, LookupError, ArithmeticError, RecursionError) as error:
        raise StashError(
            f"What the stash holds of {row['name']!r} is damaged; bring back a backup of the stash."
        ) from error


def entry_from_row(row: sqlite3.Row) -> StashEntry:
    """Return the entry of a row, without its picture.

    Raises
    ------
    StashError, BundleFileError
        If what was measured is damaged.
    """
    with _undamaged(row):
        return _entry(row)


def _entry(row: sqlite3.Row) -> StashEntry:
    measured = Checker("stash", json.loads(row["measured"]), row["name"])
    return StashEntry(
        id=int(row["id"]),
        name=str(row["name"]),
        kind=Kind(row["kind"]),
        amount=Fraction(row["amount"]),
        unit=str(row["unit"]),
        place=str(row["place"]),
        note=str(row["note"]),
        lab=measured.lab("lab"),
        lab_sd=measured.triple("lab_sd", least=0.0),
        value_spread=measured.number("value_spread", least=0.0),
        print_scale_inches=measured.number_or_none("print_scale_inches", least=0.0),
        busyness=measured.number("busyness", least=0.0),
        reads_as_solid=measured.truth("reads_as_solid"),
        palette=tuple(
            PaletteColor(lab=c.lab("lab"), share=c.number("share", least=0.0, most=1.0))
            for c in measured.records("palette")
        ),
        reference=str(row["reference"]),
        trust=str(row["trust"]),
        source=str(row["source"]),
        added=str(row["added"]),
        removed=str(row["removed"]),
    )


def swatch_from_row(row: sqlite3.Row) -> Swatch:
    """Return all that was measured, with the picture; its ``id`` is the entry's name.

    Raises
    ------
    StashError, BundleFileError
        If what was measured is damaged.
    """
    with _undamaged(row):
        return _swatch(row)


def _swatch(row: sqlite3.Row) -> Swatch:
    measured = json.loads(row["measured"])
    measured["id"] = row["name"]
    measured["photo"] = 0
    measured["picture"] = jpeg_text(row["picture"])
    mask = row["valid"]
    measured["valid"] = None if mask is None else _PNG + base64.b64encode(mask).decode("ascii")
    return square_from_json(Checker("stash", measured, row["name"]), photos=1)
