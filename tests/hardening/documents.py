"""Ways to break documents: values of another kind, numbers that cannot be, keys gone or doubled."""

import copy
import json
import random
from typing import Any

STRANGE: tuple[Any, ...] = (
    None, True, -1, 0, 3, 1e308, -1e308, 10**400, float("nan"), float("inf"), "", " ", "B3",
    "=1+1", "../../etc/passwd", "\0", "a\nb", "x" * 100_000, "\u202egnp.exe", "1/0", "2 1/2",
    [], [[]], {}, {"a": 1}, [None] * 3, ["B3"] * 50, "data:image/jpeg;base64,AAAA",
    "data:image/png;base64,!!!!",
)  # fmt: skip


def _places(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [at] if at else []
    items = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for key, inner in items:
        found += _places(inner, (*at, key))
    return found


def broken(document: Any, rng: random.Random) -> Any:
    """A copy of a parsed document with one to three places broken."""
    document = copy.deepcopy(document)
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        places = _places(document)
        if not places:
            return rng.choice(STRANGE)
        *way, last = rng.choice(places)
        inner = document
        for key in way:
            inner = inner[key]
        match rng.randrange(5):
            case 0:
                del inner[last]
            case 1 if isinstance(inner, list):
                inner.insert(last, copy.deepcopy(inner[last]))
            case 2 if isinstance(inner, dict):
                inner[f"{last}s"] = inner.pop(last)
            case 3:
                deep: Any = 1
                for _ in range(rng.choice([5, 200])):
                    deep = [deep]
                inner[last] = deep
            case _:
                inner[last] = copy.deepcopy(rng.choice(STRANGE))
    return document


def broken_json(document: Any, rng: random.Random) -> bytes:
    """The JSON text of a broken document, at times broken as text too."""
    text = json.dumps(broken(document, rng)).encode()
    return broken_bytes(text, rng) if rng.random() < 0.15 else text


def broken_bytes(data: bytes, rng: random.Random) -> bytes:
    """A text with a stretch cut out, doubled or written over."""
    if not data:
        return data
    start = rng.randrange(len(data))
    end = min(len(data), start + rng.randrange(1, 40))
    match rng.randrange(4):
        case 0:
            return data[:start]
        case 1:
            return data[:start] + data[end:]
        case 2:
            return data[:end] + data[start:]
        case _:
            return data[:start] + rng.randbytes(end - start) + data[end:]


def broken_lines(text: str, rng: random.Random) -> str:
    """A text of lines ``key = value`` with some values or lines broken."""
    lines = text.splitlines()
    for _ in range(rng.choice([1, 1, 2, 3])):
        at = rng.randrange(len(lines))
        key, equals, _ = lines[at].partition("=")
        match rng.randrange(5):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, lines[at])
            case 2 if equals:
                strange = rng.choice(STRANGE)
                written = json.dumps(strange) if strange is not None else '""'
                written = written.replace("NaN", "nan").replace("Infinity", "inf")
                lines[at] = f"{key}= {written}"
            case 3 if equals:
                lines[at] = f"{key.strip()}s = 3"
            case _:
                lines[at] = lines[rng.randrange(len(lines))]
        if not lines:
            return ""
    return "\n".join(lines)
