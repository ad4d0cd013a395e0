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

NUMBERS = (0.0, 1e-300, 1e-6, 0.5, 3.0, 99.0, 1e4, 1e9, 1e299, -1e-6, -1e9)
LENGTHS = ("1/64", "1/8", "1/2", "1", "1 1/2", "2", "3", "4 7/8", "9 31/32", "10", "60", "10000")
WORDS = (
    "background", "out", "mixed", "dark", "light", "focal", "fill", "", " ", "<b>&amp;</b>",
    "#import \"x\"", "[a](b) *c* $d$", "=cmd()", "../x", "a\nb", "\u202egpj", "\N{SPOOL OF THREAD}",
    "\u05e9\u05dc\u05d5\u05dd", "w" * 300,
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


def altered(document: Any, rng: random.Random) -> Any:
    """A copy of a parsed document with one to four values changed for others of their kind, as a
    person may mistype or a program may reckon them: much of it can still be read, and is then
    dealt, cut and drawn."""
    document = copy.deepcopy(document)
    for _ in range(rng.choice([1, 1, 2, 4])):
        places = _places(document)
        if not places:
            return document
        *way, last = rng.choice(places)
        inner = document
        for key in way:
            inner = inner[key]
        inner[last] = _another(inner[last], _texts_at(last, document, places), rng)
    return document


def _another(value: Any, alike: list[str], rng: random.Random) -> Any:
    """``alike`` are the texts that stand elsewhere under the same key."""
    match value:
        case bool():
            return not value
        case int():
            return rng.choice([0, 1, 2, 5, 40, 2000, 10**30, value + 1, value - 1, -value])
        case float():
            return rng.choice([*NUMBERS, value + 1.0, value * rng.uniform(0.5, 2), -value])
        case str() if value[:5] == "data:":
            return value
        case str():
            usual = LENGTHS if value[:1].isdigit() else alike
            turned = value + rng.choice([", turned 90", ", mirrored", ", mirrored, turned 270"])
            return rng.choice([rng.choice(usual), rng.choice(usual), turned, rng.choice(WORDS)])
        case list() if value:
            at = rng.randrange(len(value))
            return rng.choice([value[:at], value[at:], [*value, value[at]], value * 3, value[::-1]])
        case dict() if value:
            key = rng.choice(list(value))
            return rng.choice([{k: v for k, v in value.items() if k != key}, {key: value[key]}])
    return rng.choice([0.5, "B3", None, value])


def _texts_at(key: Any, document: Any, places: list[tuple[Any, ...]]) -> list[str]:
    found = []
    for *way, last in places:
        if last == key or (isinstance(key, int) and isinstance(last, int)):
            inner = document
            for step in (*way, last):
                inner = inner[step]
            found += [inner] if isinstance(inner, str) else []
    return found


def toml(document: dict[str, Any]) -> str:
    """The document as TOML, a line for every key; what TOML has no word for is left out."""
    return "\n".join(f"{json.dumps(key)} = {_toml(value)}" for key, value in document.items())


def _toml(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_toml(item) for item in value if item is not None)}]"
    if isinstance(value, dict):
        inner = (f"{json.dumps(k)} = {_toml(v)}" for k, v in value.items() if v is not None)
        return f"{{ {', '.join(inner)} }}"
    return json.dumps(value, ensure_ascii=False)
