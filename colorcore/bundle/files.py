"""Bundle files: JSON, checked strictly on the way in, written whole or not at all."""

import json
import os
from collections.abc import Set
from pathlib import Path
from typing import Any, Final

from colorcore.bundle.checking import Checker
from colorcore.bundle.model import Bundle, PhotoRecord, SeenAgain
from colorcore.bundle.pictures import jpeg_uri, mask_from_uri, mask_uri, picture_from_uri
from colorcore.errors import BundleFileError
from colorcore.flags import FLAGS
from colorcore.reading import read_whole
from colorcore.swatch.model import PaletteColor, Swatch
from colorcore.writing import write_atomically

SCHEMA: Final = "bundlestacks-bundle-1"
"""Format and version. A file of another version is refused rather than half understood."""
MOST_BYTES: Final = 256 * 1024 * 1024


def bundle_to_json(bundle: Bundle) -> dict[str, Any]:
    """Return a bundle as what ``schema/bundle.schema.json`` describes."""
    return {
        "schema": SCHEMA,
        "name": bundle.name,
        "provenance": dict(bundle.provenance),
        "photos": [
            {
                "path": photo.path,
                "sha256": photo.sha256,
                "width": photo.width,
                "height": photo.height,
                "reference": photo.reference,
                "trust": photo.trust,
                "trust_words": photo.trust_words,
                "notes": list(photo.notes),
            }
            for photo in bundle.photos
        ],
        "squares": [square_to_json(square) for square in bundle.squares],
        "seen_again": [
            {
                "square": again.square,
                "address": again.address,
                "photo": again.photo,
                "row": again.row,
                "column": again.column,
                "corners": [list(corner) for corner in again.corners],
            }
            for again in bundle.seen_again
        ],
    }


def write_bundle(bundle: Bundle, path: str | os.PathLike[str]) -> None:
    """Write a bundle as JSON, with a picture of each square inside.

    Raises
    ------
    OutputError
        If the place cannot be written.
    """
    text = json.dumps(bundle_to_json(bundle), ensure_ascii=False, indent=1, allow_nan=False)
    write_atomically(path, (text + "\n").encode("utf-8"))


def read_bundle(path: str | os.PathLike[str]) -> Bundle:
    """Read a bundle file.

    Raises
    ------
    BundleFileError
        If there is none, or it does not hold a bundle: file, key and what was expected.
    """
    name = Path(path).name
    too_large = (
        f"{name}: larger than {MOST_BYTES // 2**20} MB, as no bundle is; measure its photos again."
    )
    content = read_whole(path, BundleFileError, most=MOST_BYTES, too_large=too_large)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BundleFileError(
            f"{name}: not a bundle file (not text); make one with 'bundlestacks measure'."
        ) from error
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        # Not only JSONDecodeError: a whole number of thousands of digits is refused as well.
        where = f" at line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise BundleFileError(
            f"{name}: not a bundle file (no JSON{where}); make one with 'bundlestacks measure'."
        ) from error
    return bundle_from_json(data, name)


def bundle_from_json(data: Any, name: str = "bundle") -> Bundle:
    """Return the bundle that parsed JSON holds; ``name`` stands for the file in messages.

    Raises
    ------
    BundleFileError
        Naming the key and what was expected there.
    """
    root = Checker(name, data)
    schema = root.text("schema")
    if schema.startswith("bundlestacks-plan-"):
        raise BundleFileError(
            f"{name}: a plan, not a bundle; give the bundle file that lies beside it."
        )
    if schema != SCHEMA:
        root.refuse("schema", f"{SCHEMA!r}; measure the photos again with this version", schema)
    photos = tuple(_photo_from_json(item) for item in root.records("photos"))
    squares = tuple(square_from_json(item, len(photos)) for item in root.records("squares"))
    seen: set[str] = set()
    for i, square in enumerate(squares):
        if square.id in seen:
            root.refuse(f"squares[{i}].id", "an address that no other square has", square.id)
        seen.add(square.id)
    again = root.records("seen_again") if root.has("seen_again") else ()
    provenance = root.record("provenance") if root.has("provenance") else None
    return Bundle(
        squares=squares,
        photos=photos,
        provenance=() if provenance is None else provenance.all_texts(),
        name=root.text("name", default=""),
        seen_again=tuple(_again_from_json(item, seen, len(photos)) for item in again),
    )


def _again_from_json(item: Checker, squares: Set[str], photos: int) -> SeenAgain:
    square, address = item.text("square"), item.text("address")
    if square not in squares:
        item.refuse("square", "the address of a square", square)
    if address in squares:
        item.refuse("address", "an address that no square has", address)
    return SeenAgain(
        square=square,
        address=address,
        photo=item.integer("photo", least=0, most=photos - 1),
        row=item.integer("row", least=0),
        column=item.integer("column", least=0),
        corners=item.points("corners", 4),
    )


def square_to_json(square: Swatch) -> dict[str, Any]:
    """Return one square as the schema describes it."""
    return {
        "id": square.id,
        "photo": square.photo,
        "row": square.row,
        "column": square.column,
        "corners": [list(corner) for corner in square.corners],
        "lab": list(square.lab),
        "lab_sd": list(square.lab_sd),
        "order_sd": square.order_sd,
        "value_spread": square.value_spread,
        "palette": [{"lab": list(c.lab), "share": c.share} for c in square.palette],
        "print_scale_inches": square.print_scale_inches,
        "stripe_degrees": square.stripe_degrees,
        "busyness": square.busyness,
        "reads_as_solid": square.reads_as_solid,
        "fabric": square.fabric,
        "confidence": square.confidence,
        "flags": list(square.flags),
        "side_inches": square.side_inches,
        "picture": jpeg_uri(square.picture),
        "valid": None if square.valid is None else mask_uri(square.valid),
    }


def _address(text: str) -> str:
    if not text.strip():
        raise ValueError("an address such as B3")
    return text


def _photo_from_json(item: Checker) -> PhotoRecord:
    return PhotoRecord(
        path=item.text("path"),
        sha256=item.text("sha256", default=""),
        width=item.integer("width", least=1),
        height=item.integer("height", least=1),
        reference=item.text("reference"),
        trust=item.text("trust", choices=("A", "B", "C", "D")),
        trust_words=item.text("trust_words", default=""),
        notes=item.texts("notes"),
    )


def square_from_json(item: Checker, photos: int) -> Swatch:
    """Return the square that an object of a file holds, in a bundle of ``photos`` photos.

    Raises
    ------
    BundleFileError
        Naming the key and what was expected there.
    """
    picture = item.decoded("picture", picture_from_uri)
    valid = item.decoded("valid", mask_from_uri) if item.has("valid") else None
    if valid is not None and valid.shape != picture.shape[:2]:
        item.refuse("valid", f"a mask as large as the picture, {picture.shape[:2]}", valid.shape)
    if picture.shape[0] != picture.shape[1]:
        item.refuse("picture", "a picture as wide as high", picture.shape[:2])
    return Swatch(
        id=item.decoded("id", _address),
        photo=item.integer("photo", least=0, most=photos - 1),
        row=item.integer("row", least=0),
        column=item.integer("column", least=0),
        corners=item.points("corners", 4),
        lab=item.lab("lab"),
        lab_sd=item.triple("lab_sd", least=0.0),
        value_spread=item.number("value_spread", least=0.0),
        palette=tuple(
            PaletteColor(lab=c.lab("lab"), share=c.number("share", least=0.0, most=1.0))
            for c in item.records("palette")
        ),
        print_scale_inches=item.number_or_none("print_scale_inches", least=0.0),
        stripe_degrees=item.number_or_none("stripe_degrees", least=0.0, most=180.0),
        busyness=item.number("busyness", least=0.0),
        reads_as_solid=item.truth("reads_as_solid"),
        fabric=item.integer("fabric", least=-1),
        confidence=item.number("confidence", least=0.0, most=1.0),
        flags=item.texts("flags", choices=tuple(FLAGS)),
        side_inches=item.number("side_inches", least=0.1, most=1000.0),
        picture=picture,
        valid=valid,
        order_sd=item.number_or_none("order_sd", least=0.0) if item.has("order_sd") else None,
    )
