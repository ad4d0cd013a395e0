"""Pattern files: what is read, and what is said of what cannot be."""

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.errors import PatternError
from colorcore.pattern import Role, ValueRule, parse_pattern, read_pattern, shipped_patterns

PLAIN = """
name = "Three rows"
square_inches = 10

[[stack]]
name = "Stars"
role = "focal"
value = "dark"
max_copies = 2
min_contrast = 12.5
touches = ["Rest"]

[[stack.piece]]
name = "point"
width = "2 1/2"
height = 4.5
per_square = 6

[[stack]]
name = "Rest"
role = "fill"
value = "mixed"
beside_background = false

[[size]]
name = "throw"
bundles = 1
finished = ["60", "70 1/2"]
squares = { Stars = 14, Rest = 28 }

[[size]]
name = "queen"
bundles = 2
squares = { Stars = 28, Rest = 56 }
"""


def test_a_plain_pattern() -> None:
    pattern = parse_pattern(PLAIN, source="rows.toml")
    assert (pattern.name, pattern.square_inches, pattern.source) == (
        "Three rows",
        10.0,
        "rows.toml",
    )
    throw, queen = pattern.sizes
    stars, rest = throw.stacks
    assert (stars.role, stars.value, stars.squares) == (Role.FOCAL, ValueRule.DARK, 14)
    assert (stars.max_copies, stars.min_contrast, stars.touches) == (2, 12.5, ("Rest",))
    assert stars.pieces[0].width == Fraction(5, 2)
    assert stars.pieces[0].height == Fraction(9, 2)
    assert (rest.beside_background, rest.max_copies, rest.min_contrast) == (False, None, None)
    assert throw.finished == (Fraction(60), Fraction(141, 2))
    assert (queen.bundles, queen.squares, queen.finished) == (2, 84, None)
    assert queen.stacks[0].pieces == stars.pieces


@pytest.mark.parametrize("name", sorted(shipped_patterns()))
def test_shipped_patterns_fit_the_bundles_they_ask_for(name: str) -> None:
    pattern = read_pattern(name)
    assert pattern.description
    assert pattern.sizes[0].bundles == 1
    assert max(size.bundles for size in pattern.sizes) == 2
    for size in pattern.sizes:
        # About 42 squares to a bundle: common practice, no source.
        assert size.squares <= 42 * size.bundles
        assert size.squares >= 40 * size.bundles
        assert any(stack.role is Role.FOCAL for stack in size.stacks)


def test_a_shipped_star_pattern_has_one_dark_focal_stack_and_two_mixed_ones() -> None:
    stacks = read_pattern("gatepost-stars").sizes[0].stacks
    assert [(s.role, s.value, s.squares) for s in stacks] == [
        (Role.FOCAL, ValueRule.DARK, 14),
        (Role.FILL, ValueRule.MIXED, 14),
        (Role.FILL, ValueRule.MIXED, 14),
    ]


def test_a_file_wins_over_a_shipped_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "gatepost-stars").write_text(PLAIN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert read_pattern("gatepost-stars").name == "Three rows"
    assert read_pattern("gatepost-stars.toml").name == "Gatepost Stars"


@pytest.mark.parametrize(
    ("old", "new", "where", "expected"),
    [
        ('role = "focal"', 'role = "hero"', "stack 1, role", "one of focal, fill, not 'hero'"),
        ('value = "dark"', 'value = "murky"', "stack 1, value", "dark, medium, light, mixed"),
        ('value = "dark"', "", "stack 1, value", "it is missing"),
        ("max_copies = 2", "max_copies = 0", "stack 1, max_copies", "whole number from 1"),
        ("max_copies = 2", "max_copies = true", "stack 1, max_copies", "whole number"),
        ("max_copies = 2", "max_copys = 2", "stack 1, max_copys", "one of the keys"),
        ("min_contrast = 12.5", "min_contrast = nan", "stack 1, min_contrast", "0 to 100"),
        ("min_contrast = 12.5", "min_contrast = 1e9", "stack 1, min_contrast", "0 to 100"),
        ('touches = ["Rest"]', 'touches = ["Moon"]', "stack 1, touches", "not 'Moon'"),
        ('touches = ["Rest"]', 'touches = "Rest"', "stack 1, touches", "a list of texts"),
        ('width = "2 1/2"', 'width = "2 1/0"', "stack 1, piece 1, width", "length in inches"),
        ('width = "2 1/2"', "width = -2", "stack 1, piece 1, width", "length in inches"),
        ('width = "2 1/2"', "width = 0", "stack 1, piece 1, width", "length in inches"),
        ('width = "2 1/2"', 'width = "12"', "stack 1, piece 1, width", "at most the square's side"),
        ("per_square = 6", "per_square = 60", "stack 1, piece", "675 square inches"),
        ("height = 4.5", "height = 6.5", "stack 1, piece", "at most 5 of 2½ × 6½"),
        ("per_square = 6", "per_square = 1.5", "stack 1, piece 1, per_square", "whole number"),
        ('name = "Rest"', 'name = "Stars"', "stack 2, name", "no other stack"),
        ('name = "queen"', 'name = "Throw"', "size 2, name", "no other size"),
        ("Stars = 28,", "Moon = 28,", "size 2, squares, Moon", "one of the keys Stars, Rest"),
        ("Stars = 28,", "Stars = -1,", "size 2, squares, Stars", "whole number from 0"),
        ("Stars = 28, Rest = 56", "Stars = 0", "size 2, squares", "at least one stack"),
        ('finished = ["60", "70 1/2"]', 'finished = "60"', "size 1, finished", "width and height"),
        (
            "beside_background = false",
            "beside_background = 0",
            "beside_background",
            "true or false",
        ),
        ('name = "Three rows"', 'name = "  "', "name", "a text"),
        ('name = "Three rows"', "name = 3", "name", "a text, not 3"),
        ("square_inches = 10", "square_inches = 0", "square_inches", "length in inches"),
        ("square_inches = 10", "square_inch = 10", "square_inch", "one of"),
        ('[[size]]\nname = "queen"', '[[sizes]]\nname = "queen"', "sizes", "keys"),
    ],
)
def test_what_is_wrong_is_named(old: str, new: str, where: str, expected: str) -> None:
    assert old in PLAIN
    with pytest.raises(PatternError) as caught:
        parse_pattern(PLAIN.replace(old, new, 1), source="rows.toml")
    sentence = str(caught.value)
    assert sentence.startswith("rows.toml: ")
    assert where in sentence
    assert expected in sentence


@pytest.mark.parametrize(
    "text",
    ["", "name = 'x'", "[stack]\nname='x'", "stack = 3", "= 3", "name = 'x'\n[[size]]", "\x00"],
)
def test_files_that_are_no_patterns(text: str) -> None:
    with pytest.raises(PatternError, match=r"^rows\.toml: "):
        parse_pattern(text, source="rows.toml")


def test_a_word_without_its_marks_is_told_where_and_how() -> None:
    with pytest.raises(PatternError, match=r"line 2, .* stand in quotation marks"):
        parse_pattern('description = "x"\nname = Geese\n')


def test_a_name_mistyped_is_guessed() -> None:
    with pytest.raises(PatternError, match=r"did you mean 'gatepost-stars'\?"):
        read_pattern("gatepost-star")
    with pytest.raises(PatternError, match=r"of that name; shipped"):
        read_pattern("quite-another")


def test_places_that_are_no_patterns(tmp_path: Path) -> None:
    with pytest.raises(PatternError, match="shipped are gatepost-stars"):
        read_pattern(tmp_path / "none.toml")
    with pytest.raises(PatternError, match="no pattern file"):
        read_pattern(tmp_path)
    with pytest.raises(PatternError, match="no pattern file"):
        read_pattern("a\x00b")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PatternError, match="UTF-8"):
        read_pattern(binary)
    large = tmp_path / "large.toml"
    large.write_text("#" * 1_000_001)
    with pytest.raises(PatternError, match="too large"):
        read_pattern(large)


def test_deep_nesting_is_refused() -> None:
    with pytest.raises(PatternError):
        parse_pattern("a = " + "[" * 5000 + "]" * 5000)


VALUES = st.recursive(
    st.none().map(lambda _: "") | st.integers(-(10**20), 10**20) | st.floats() | st.text(max_size=8)
    | st.booleans(),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=5,
)  # fmt: skip


@settings(max_examples=150)
@given(
    key=st.sampled_from(["name", "square_inches", "role", "value", "max_copies", "min_contrast",
                         "touches", "width", "per_square", "bundles", "finished", "squares"]),
    value=VALUES,
)  # fmt: skip
def test_any_value_anywhere_is_read_or_refused_in_words(key: str, value: object) -> None:
    lines = PLAIN.splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith(f"{key} ="))
    lines[at] = f"{key} = {_toml(value)}"
    said = "rows.toml: "
    try:
        parse_pattern("\n".join(lines), source="rows.toml")
    except PatternError as error:
        said = str(error)
    assert said.startswith("rows.toml: ")


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if isinstance(value, str):
        return (
            '"' + "".join(f"\\U{ord(c):08x}" for c in value if not 0xD800 <= ord(c) < 0xE000) + '"'
        )
    return repr(value)


@pytest.mark.parametrize(
    "number",
    ["1" + "0" * 400, "-1" + "0" * 400, "0x" + "f" * 5000],
    ids=["400 digits", "400 digits below 0", "5000 hexadecimal digits"],
)
@pytest.mark.parametrize("key", ["square_inches", "min_contrast", "max_copies", "name", "finished"])
def test_numbers_too_large_for_arithmetic_or_to_be_written_are_refused(
    key: str, number: str
) -> None:
    lines = PLAIN.splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith(f"{key} ="))
    lines[at] = f"{key} = {number}"
    with pytest.raises(PatternError) as caught:
        parse_pattern("\n".join(lines), source="rows.toml")
    words = str(caught.value)
    assert words.startswith("rows.toml: ")
    assert f"{key}: expected " in words
    assert len(words) < 250


SHIPPED = Path(__file__).parents[2] / "colorcore/pattern/shipped"
RAILS = (SHIPPED / "lamplight-rails.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("old", "new", "beside"),
    [
        ("beside_background = false\n", "", {False}),
        ("beside_background = false\n", "beside_background = true\n", {True}),
    ],
)
def test_where_no_unit_takes_background_nothing_is_held_against_one(
    old: str, new: str, beside: set[bool]
) -> None:
    pattern = parse_pattern(RAILS.replace(old, new))
    assert {rule.beside_background for size in pattern.sizes for rule in size.stacks} == beside


@pytest.mark.parametrize(
    "change",
    [
        ('light = { stack = "Light rails" }', 'light = "background"'),
        ('width = "4", fabric = "border"', 'width = "4", fabric = "background"'),
        (RAILS[RAILS.index("# How it is sewn") :], ""),
    ],
)
def test_background_in_a_unit_a_border_or_an_untold_quilt_counts(change: tuple[str, str]) -> None:
    text = RAILS.replace("beside_background = false\n", "").replace(*change)
    if not change[1]:
        text = "\n".join(
            line for line in text.splitlines() if not line.startswith(("across", "down", "border"))
        )
    pattern = parse_pattern(text)
    assert all(rule.beside_background for size in pattern.sizes for rule in size.stacks)
