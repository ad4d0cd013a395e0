"""What no font can show is spelled, so that the PDF holds no empty boxes for names.

Names of characters: the Unicode Character Database, through Python's ``unicodedata``.
"""

import pytest

from colorcore.sheets.letters import missing_letters, spelled

#: None of these is in a font that the typesetter brings.
FOREIGN = "あいぞめ藍한ต🧵"
#: These are, though they lie far from Latin.
OWN = "é ß Ž ж Ω ½ ⅞ × ΔL* – ” → ≤ ★ ש ع"


def test_only_what_no_font_has_is_missing():
    missing = missing_letters([OWN, FOREIGN], system_fonts=False)
    assert missing == frozenset(FOREIGN)


def test_fonts_of_the_machine_only_take_away_from_it():
    assert missing_letters([FOREIGN]) <= missing_letters([FOREIGN], system_fonts=False)


def test_plain_text_asks_nothing(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "typst", None)
    assert missing_letters(["Harbour throw", "½ yard – 3⅞ in"]) == frozenset()


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("あいぞめ", "aizome"),
        ("藍 2", "U+85CD 2"),
        ("あい藍藍ぞめ", "ai U+85CD U+85CD zome"),
        ("한", "han"),
        ("🧵🧵 blue", "[spool of thread] [spool of thread] blue"),
        ("Größe", "Größe"),
    ],
)
def test_spelling(text, want):
    assert spelled(text, frozenset(FOREIGN)) == want


def test_what_a_font_has_stays():
    assert spelled("あ藍", frozenset("藍")) == "あU+85CD"
