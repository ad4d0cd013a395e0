"""The stash as CSV, for a spreadsheet: without pictures and the details of prints.

Its rows can be edited and read back, as corrections of entries that the stash has or as new plain
entries made from name and colour alone.
"""

import csv
import io
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final, NoReturn

import numpy as np

from colorcore.color.naming import describe_color
from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.errors import StashError
from colorcore.plain import cell
from colorcore.stash.model import AMOUNT_UNITS, TRUSTS, Kind, NewEntry, StashEntry
from colorcore.stash.reading import read_fraction, read_text
from colorcore.stash.store import Stash
from colorcore.swatch import PaletteColor, Swatch

COLUMNS: Final = (
    "name", "kind", "amount", "unit", "place", "note", "L*", "a*", "b*", "L* sd", "value spread",
    "print inches", "color", "reference", "trust", "source",
)  # fmt: skip
_WANTED: Final = ("name", "kind", "amount", "unit", "L*", "a*", "b*")
_PLAIN_SD: Final = 2.0
"""One standard deviation of L*, a*, b* that a colour typed by hand is given (our choice)."""


def export_csv(stash: Stash) -> bytes:
    """Return a CSV file (RFC 4180, UTF-8 with a byte order mark, which spreadsheets ask for) with
    a row for every entry that is there."""
    stream = io.StringIO(newline="")
    table = csv.writer(stream)
    table.writerow(COLUMNS)
    for entry in stash.entries():
        table.writerow(_row(entry))
    return stream.getvalue().encode("utf-8-sig")


def _row(entry: StashEntry) -> tuple[str, ...]:
    scale = entry.print_scale_inches
    return (
        _guarded(entry.name),
        str(entry.kind),
        str(entry.amount),
        entry.unit,
        _guarded(entry.place),
        _guarded(entry.note),
        *(f"{value:.3f}" for value in entry.lab),
        f"{entry.lab_sd[0]:.3f}",
        f"{entry.value_spread:.2f}",
        "" if scale is None else f"{scale:.2f}",
        describe_color(entry.lab),
        _guarded(entry.reference),
        entry.trust,
        _guarded(entry.source),
    )


@dataclass(frozen=True)
class CsvRow:
    """One row of a CSV file; ``lab_sd``, ``value_spread`` and ``print_scale_inches`` are None
    where the column is missing or empty."""

    line: int
    name: str
    kind: Kind
    amount: Fraction
    unit: str
    place: str
    note: str
    lab: tuple[float, float, float]
    lab_sd: float | None
    value_spread: float | None
    print_scale_inches: float | None
    reference: str
    trust: str
    source: str


def read_csv(path: str | os.PathLike[str]) -> list[CsvRow]:
    """Read a CSV file of entries; columns may stand in any order, and others are left alone.

    Raises
    ------
    StashError
        If it cannot be read, lacks a column, or a cell is wrong: file, line, column and what was
        expected.
    """
    name = Path(path).name
    stream = io.StringIO(read_text(path), newline="")
    table = csv.reader(stream, strict=True)
    try:
        head = [_unguarded(h).strip() for h in next(table, [])]
        missing = [column for column in _WANTED if column not in head]
        if missing:
            raise StashError(
                f"{name}, line 1: the column {missing[0]!r} is missing; the first line names the "
                f"columns: {', '.join(_WANTED)} and, if wanted, others."
            )
        twice = [column for column in head if column and head.count(column) > 1]
        if twice:
            raise StashError(
                f"{name}, line 1: the column {twice[0]!r} is there twice; take one out."
            )
        rows = []
        for cells in table:
            if any(c.strip() for c in cells):
                rows.append(_Cells(name, table.line_num, head, cells).row())
    except csv.Error as error:
        raise StashError(
            f"{name}, line {table.line_num}: no CSV ({error}); save the table as CSV again."
        ) from error
    return rows


def _guarded(text: str) -> str:
    """Return text so that no spreadsheet runs it as a formula: with an apostrophe before it.

    Text that looks guarded already gets one more, so that ``_unguarded`` gives back the same.
    """
    bare = text.lstrip("'")
    return "'" + text if cell(bare) != bare else text


def _unguarded(text: str) -> str:
    """Return a cell's text without the apostrophe that ``_guarded`` put before it."""
    return text[1:] if text[:1] == "'" and _guarded(text) != text else text


class _Cells:
    """The cells of one line, checked one by one."""

    def __init__(self, name: str, line: int, head: Sequence[str], cells: Sequence[str]) -> None:
        self._name, self._line = name, line
        if len(cells) > len(head):
            raise StashError(
                f"{name}, line {line}: {len(cells)} cells but {len(head)} columns; put text with "
                "commas in double quotes."
            )
        self._cells = dict(zip(head, map(_unguarded, cells), strict=False))

    def row(self) -> CsvRow:
        lab = (
            self.number("L*", -1, 200),
            self.number("a*", -300, 300),
            self.number("b*", -300, 300),
        )
        kind = self.one_of("kind", tuple(Kind))
        row = CsvRow(
            line=self._line,
            name=self.text("name"),
            kind=Kind(kind),
            amount=self.amount("amount"),
            unit=self.one_of("unit", AMOUNT_UNITS),
            place=self.text("place"),
            note=self.text("note"),
            lab=lab,
            lab_sd=self.number_or_none("L* sd", 0, 100),
            value_spread=self.number_or_none("value spread", 0, 200),
            print_scale_inches=self.number_or_none("print inches", 0, 1000),
            reference=self.text("reference"),
            trust=self.one_of("trust", TRUSTS, empty="D"),
            source=self.text("source"),
        )
        # What an entry may not be is said with the place in the file.
        self.tried("name", lambda: plain_entry(row))
        return row

    def text(self, column: str) -> str:
        return self._cells.get(column, "")

    def one_of(self, column: str, choices: Sequence[str], *, empty: str = "") -> str:
        value = self.text(column).strip() or empty
        if value not in choices:
            self.refuse(column, f"one of {', '.join(choices)}", value)
        return value

    def amount(self, column: str) -> Fraction:
        value = self.text(column).strip()
        try:
            return read_fraction(value)
        except ValueError as error:
            self.refuse(column, str(error), value)

    def number(self, column: str, least: float, most: float) -> float:
        value = self.text(column).strip()
        try:
            number = float(value)
        except ValueError:
            number = float("nan")
        if not least <= number <= most:
            self.refuse(column, f"a number from {least:g} to {most:g}", value)
        return number

    def number_or_none(self, column: str, least: float, most: float) -> float | None:
        return self.number(column, least, most) if self.text(column).strip() else None

    def tried(self, column: str, make: Callable[[], object]) -> None:
        try:
            make()
        except StashError as error:
            raise StashError(f"{self._name}, line {self._line}, column {column}: {error}") from None

    def refuse(self, column: str, expected: str, got: str) -> NoReturn:
        shown = got if len(got) <= 40 else got[:37] + "..."
        raise StashError(
            f"{self._name}, line {self._line}, column {column}: expected {expected}, got {shown!r}."
        )


def plain_entry(row: CsvRow) -> NewEntry:
    """Return an entry from name and colour alone: what is not said is that of a plain fabric.

    Raises
    ------
    StashError
        If no entry may be like that.
    """
    sd = _PLAIN_SD if row.lab_sd is None else row.lab_sd
    spread = row.value_spread or 0.0
    scale = row.print_scale_inches
    color = coded8_from_linear(linear_from_lab(np.array(row.lab)))
    swatch = Swatch(
        id=row.name.strip() or "?",
        photo=0,
        row=0,
        column=0,
        corners=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)),
        lab=row.lab,
        lab_sd=(sd, sd, sd),
        value_spread=spread,
        palette=(PaletteColor(row.lab, 1.0),),
        print_scale_inches=scale,
        stripe_degrees=None,
        busyness=round(spread / 2.56, 2),
        reads_as_solid=scale is None,
        fabric=-1,
        confidence=1.0,
        flags=("no-scale",),
        side_inches=10.0,
        picture=np.broadcast_to(color, (16, 16, 3)).copy(),
    )
    return NewEntry(
        name=row.name,
        kind=row.kind,
        amount=row.amount,
        unit=row.unit,
        swatch=swatch,
        place=row.place,
        note=row.note,
        reference=row.reference or "none",
        trust=row.trust,
        source=row.source,
    )
