"""Which plans lie in a folder already, so that none is replaced without a word."""

import html
import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from colorcore.sheets.plan_json import MOST_BYTES

_HEAD_BYTES: Final = 4096
_PATTERN: Final = re.compile(r'<meta name="pattern" content="([^"]*)">')


def replaced_patterns(folder: Path, files: Iterable[str], pattern: str) -> tuple[str, ...]:
    """Return the patterns of the plans that writing ``files`` of a plan for ``pattern`` into a
    folder replaces: of sheet and plan file, those that are of another pattern. What cannot be
    read is no plan that anyone could miss."""
    names = []
    for name, read in (("plan.html", _of_sheet), ("plan.json", _of_plan)):
        if name in files:
            try:
                names.append(read(folder / name))
            except (OSError, ValueError, RecursionError, LookupError, TypeError):
                continue
    return tuple(dict.fromkeys(name for name in names if name and name != pattern))


def _of_sheet(path: Path) -> str:
    with path.open("rb") as stream:
        head = stream.read(_HEAD_BYTES).decode("utf-8", "replace")
    found = _PATTERN.search(head)
    return html.unescape(found[1]) if found else ""


def _of_plan(path: Path) -> str:
    if path.stat().st_size > MOST_BYTES:
        return ""
    return str(json.loads(path.read_bytes().decode("utf-8-sig"))["pattern"]["name"])
