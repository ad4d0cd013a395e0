"""The stash as JSON, with everything measured and the pictures inside: it comes back the same."""

import json
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from colorcore.bundle.checking import Checker
from colorcore.bundle.files import square_from_json, square_to_json
from colorcore.errors import BundleFileError, StashError
from colorcore.stash.model import AMOUNT_UNITS, TRUSTS, Kind, NewEntry, StashEntry
from colorcore.stash.reading import read_fraction, read_text
from colorcore.stash.rows import jpeg_from_text, jpeg_text
from colorcore.stash.store import Stash
from colorcore.swatch import Swatch

SCHEMA: Final = "bundlestacks-stash-1"


def export_json(stash: Stash) -> Iterator[bytes]:
    """Yield the parts of a JSON file with every entry that is there, pictures inside: parts, so
    that a large stash never lies in memory as a whole."""
    yield f'{{"schema": {json.dumps(SCHEMA)}, "entries": ['.encode()
    for n, entry in enumerate(stash.entries()):
        record = entry_to_json(entry, stash.swatch(entry.id), stash.picture(entry.id))
        text = json.dumps(record, ensure_ascii=False, allow_nan=False)
        yield (",\n" if n else "\n").encode() + text.encode()
    yield b"\n]}\n"


def entry_to_json(
    entry: StashEntry | NewEntry, swatch: Swatch, jpeg: bytes | None
) -> dict[str, Any]:
    """Return one entry as the file holds it; ``jpeg`` its picture as it is kept, if it is."""
    measured = square_to_json(replace(swatch, id=entry.name, photo=0))
    if jpeg is not None:
        measured["picture"] = jpeg_text(jpeg)
    return {
        "name": entry.name,
        "kind": str(entry.kind),
        "amount": str(entry.amount),
        "unit": entry.unit,
        "place": entry.place,
        "note": entry.note,
        "reference": entry.reference,
        "trust": entry.trust,
        "source": entry.source,
        "measured": measured,
    }


def read_json(path: str | os.PathLike[str]) -> list[NewEntry]:
    """Read a stash's JSON file.

    Raises
    ------
    StashError
        If it cannot be read or is no such file: file, key and what was expected, or the line and
        column where it stops being JSON.
    """
    name = Path(path).name
    text = read_text(path)
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise StashError(
            f"{name}, line {error.lineno}, column {error.colno}: no JSON ({error.msg}); "
            "export the stash again, or mend the file there."
        ) from error
    except ValueError as error:
        raise StashError(
            f"{name}: holds a number of thousands of digits; no stash file does. Export it again."
        ) from error
    except RecursionError as error:
        raise StashError(
            f"{name}: nested too deeply; no stash file is. Export it again."
        ) from error
    try:
        root = Checker(name, data)
        if root.text("schema") != SCHEMA:
            root.refuse("schema", repr(SCHEMA), root.text("schema"))
        entries = [_entry_from_json(item) for item in root.records("entries")]
    except BundleFileError as error:
        raise StashError(str(error)) from error
    return entries


def _entry_from_json(item: Checker) -> NewEntry:
    measured = item.record("measured")
    try:
        return NewEntry(
            name=item.text("name"),
            kind=Kind(item.text("kind", choices=tuple(Kind))),
            amount=item.decoded("amount", read_fraction),
            unit=item.text("unit", choices=AMOUNT_UNITS),
            place=item.text("place", default=""),
            note=item.text("note", default=""),
            reference=item.text("reference", default="none"),
            trust=item.text("trust", choices=TRUSTS, default="D"),
            source=item.text("source", default=""),
            swatch=square_from_json(measured, photos=1),
            jpeg=jpeg_from_text(measured.text("picture")),
        )
    except StashError as error:
        item.refuse("name", str(error), item.text("name"))
