"""Letters that no font at hand can show, spelled in letters that every font has.

The typesetter brings fonts for Latin, Greek, Cyrillic and a few more scripts, and takes what else
it needs from the fonts of the machine. Where none has a letter it would print an empty box, so that
two fabrics could not be told apart. Names of letters are those of the Unicode standard.
"""

import json
import re
import unicodedata
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Final

#: Below are letters of the typesetter's own fonts; in between, extended Latin and Greek,
#: punctuation, fractions, arrows and signs, which its fonts have too.
_FIRST_TO_ASK: Final = 0x0530
_OWN_FROM, _OWN_TO = 0x1E00, 0x22FF

_BY_SOUND: Final = re.compile(
    r"\b(?:LETTER|SYLLABLE|VOWEL SIGN)(?: (?:SMALL|CAPITAL|INITIAL|FINAL))* ([A-Z]+)$"
)
#: Widths are asked beside two fonts whose empty boxes differ in width, since a letter of some other
#: font may be as wide as one of the boxes. The last character of all is never a letter.
_QUESTION: Final = """
#let letters = json("letters.json") + ("\\u{10ffff}",)
#let widths(font) = letters.map(c => measure(text(font: font, size: 100pt, c)).width.pt())
#context metadata((widths("Libertinus Serif"), widths("DejaVu Sans Mono")))
"""


def missing_letters(texts: Iterable[str], *, system_fonts: bool = True) -> frozenset[str]:
    """Return the characters of some texts that no font can show.

    Parameters
    ----------
    system_fonts : bool
        Whether the fonts of this machine count beside those of the typesetter.
    """
    letters = set().union(*(text for text in texts if not text.isascii()))
    asked = sorted(c for c in letters if _is_doubtful(c))
    if not asked:
        return frozenset()
    import tempfile

    import typst

    with tempfile.TemporaryDirectory(prefix="bundlestacks-") as place:
        folder = Path(place)
        (folder / "letters.json").write_text(json.dumps(asked), encoding="utf-8")
        (folder / "question.typ").write_text(_QUESTION, encoding="utf-8")
        answer = typst.query(
            str(folder / "question.typ"),
            "metadata",
            field="value",
            one=True,
            root=str(folder),
            ignore_system_fonts=not system_fonts,
        )
    one, other = json.loads(answer)
    boxes = one.pop(), other.pop()
    return frozenset(
        c for c, *widths in zip(asked, one, other, strict=True) if tuple(widths) == boxes
    )


def spelled(text: str, missing: frozenset[str]) -> str:
    """Return a text with each missing character by its sound, its name in brackets, or its number.

    Kana and syllables go by sound, signs by name, characters that have neither by number.
    """
    if not missing.intersection(text):
        return text
    parts = [""]
    for before, c in pairwise(("", *text)):
        part = _spell(c) if c in missing else c
        # Sounds make a word; what stands for a whole character stands alone.
        apart = c in missing and before in missing and not (part + parts[-1].strip()).isalpha()
        parts.append(f" {part}" if apart else part)
    return "".join(parts)


def _spell(c: str) -> str:
    name = unicodedata.name(c, "")
    sound = _BY_SOUND.search(name)
    if sound:
        return sound[1].lower()
    if unicodedata.category(c).startswith("S") and name:
        return f"[{name.lower()}]"
    return f"U+{ord(c):04X}"


def _is_doubtful(c: str) -> bool:
    number = ord(c)
    if number < _FIRST_TO_ASK or _OWN_FROM <= number <= _OWN_TO:
        return False
    return unicodedata.category(c)[0] in "LNPS"
