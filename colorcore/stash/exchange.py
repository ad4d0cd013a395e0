"""Take files of entries into a stash: all or none, and nothing twice."""

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from colorcore.errors import StashError
from colorcore.stash.csv_files import plain_entry, read_csv
from colorcore.stash.json_files import entry_to_json, read_json
from colorcore.stash.model import NewEntry, StashEntry
from colorcore.stash.store import Stash
from colorcore.swatch import Swatch


@dataclass(frozen=True)
class Imported:
    """What an import did: names ``added`` and ``changed``, and how many entries were ``known``
    already and are the same."""

    added: tuple[str, ...]
    changed: tuple[str, ...]
    known: int


def import_json(stash: Stash, path: str | os.PathLike[str]) -> Imported:
    """Add every entry of a JSON file that the stash does not have, all or none; an entry is known
    by its source, or where it has none by being the same in every respect.

    Raises
    ------
    StashError
        See ``read_json``.
    """
    new = read_json(path)
    known = _fingerprints(stash, new)
    fresh = [entry for entry in new if not _is_known(entry, known)]
    kept = stash.add_all(fresh)
    return Imported(tuple(entry.name for entry in kept), (), len(new) - len(fresh))


def import_csv(stash: Stash, path: str | os.PathLike[str]) -> Imported:
    """Take over a CSV file, all or none: rows whose source or name the stash has correct amount,
    place and note of that entry; others become new entries, plain ones of the colour given.

    Raises
    ------
    StashError
        See ``read_csv``; also if a row that corrects an entry counts in another unit than it.
    """
    name = Path(path).name
    rows = read_csv(path)
    here = stash.entries()
    by_source = {entry.source: entry for entry in here if entry.source}
    by_name = {entry.name.casefold(): entry for entry in here}
    corrections: list[tuple[int, Fraction, str, str]] = []
    new: list[NewEntry] = []
    same = 0
    for row in rows:
        entry = by_source.get(row.source) if row.source else None
        entry = entry or by_name.get(row.name.strip().casefold())
        if entry is None:
            new.append(plain_entry(row))
            continue
        if entry.unit != row.unit:
            raise StashError(
                f"{name}, line {row.line}, column unit: {entry.name} is kept in {entry.unit}, "
                f"not in {row.unit}; write the amount in {entry.unit}."
            )
        if (entry.amount, entry.place, entry.note) == (row.amount, row.place, row.note):
            same += 1
        else:
            corrections.append((entry.id, row.amount, row.place, row.note))
    added, changed = stash.take_over(new, corrections)
    return Imported(tuple(e.name for e in added), tuple(e.name for e in changed), same)


def _is_known(entry: NewEntry, known: set[str]) -> bool:
    return (entry.source or _fingerprint(entry, entry.swatch, entry.jpeg)) in known


def _fingerprints(stash: Stash, new: Iterable[NewEntry]) -> set[str]:
    sources = stash.sources()
    names = {entry.name.casefold() for entry in new if not entry.source}
    same_name = [e for e in stash.entries() if not e.source and e.name.casefold() in names]
    return sources | {_fingerprint(e, stash.swatch(e.id), stash.picture(e.id)) for e in same_name}


def _fingerprint(entry: StashEntry | NewEntry, swatch: Swatch, jpeg: bytes | None) -> str:
    return json.dumps(entry_to_json(entry, swatch, jpeg), sort_keys=True)
