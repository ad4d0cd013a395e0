"""Units in pattern files: what is read, and what is refused in which words."""

from fractions import Fraction as F

import pytest

from colorcore.cutting.giving import fewest_squares
from colorcore.cutting.kits import cut_stacks
from colorcore.errors import CuttingError, PatternError
from colorcore.pattern import parse_pattern, read_pattern, shipped_patterns
from colorcore.pattern.kits import count_units, longest_run, unit_needs
from colorcore.pattern.layout import area_and_center, spread
from colorcore.pattern.patches import Then
from colorcore.pattern.units import read_units

HEAD = """
name = "Trial"
[[stack]]
name = "Prints"
role = "fill"
value = "mixed"
[[size]]
name = "mat"
squares = { Prints = 4 }
"""

PAIR = """
[[unit]]
name = "pair"
rows = [["one", "two"], ["two", "one, turned 180"]]
[unit.fabrics]
ground = "background"
first = { stack = "Prints", different_from = ["second"] }
second = { stack = "Prints" }
[[unit.patch]]
name = "one"
shape = "half-square triangles"
width = "3"
height = "3"
upper_left = "first"
lower_right = "ground"
[[unit.patch]]
name = "two"
shape = "plain"
width = "3"
height = "3"
fabric = "second"
"""


def read(text: str) -> None:
    read_units(parse_pattern(text, source="trial.toml"))


@pytest.mark.parametrize("name", sorted(shipped_patterns()))
def test_shipped_patterns_are_quilts(name: str) -> None:
    """Sizes come out as stated, and squares and pieces follow from the units."""
    pattern = read_pattern(name)
    sewing = read_units(pattern)
    for size in pattern.sizes:
        layout = spread(sewing, size.name)
        assert size.finished == (layout.quilt.width, layout.quilt.height)
        covered = sum(area_and_center(f.polygon)[0] for f in layout.facets)
        assert covered == pytest.approx(layout.width * layout.height)
        names = {
            rule.name: [f"{rule.name} {i}" for i in range(rule.squares)] for rule in size.stacks
        }
        for rule, cutting in zip(size.stacks, cut_stacks(layout, names), strict=True):
            assert cutting.ok, cutting.sentence
            # What the stacks say is cut from a square is what the units ask for.
            stated = {(frozenset((p.width, p.height)), p.per_square) for p in rule.pieces}
            fullest = cutting.cuts[0]
            derived = {
                (frozenset((p.width, p.height)), n)
                for p, n in zip(fullest.cutting.pieces, fullest.cutting.counts, strict=True)
            }
            assert stated == derived
            assert sum(cut.kits[0] for cut in cutting.cuts) == cutting.wanted[0]


@pytest.mark.parametrize("name", sorted(shipped_patterns()))
def test_shipped_patterns_can_spare_their_pinked_edges(name: str) -> None:
    """An eighth of an inch trimmed all round, and the stacks still suffice."""
    pattern = read_pattern(name)
    for size in pattern.sizes:
        layout = spread(read_units(pattern), size.name)
        names = {
            rule.name: [f"{rule.name} {i}" for i in range(rule.squares)] for rule in size.stacks
        }
        for cutting in cut_stacks(layout, names, trim=F(1, 8)):
            assert cutting.ok, cutting.sentence


def test_shipped_patterns_show_every_kind_of_unit_that_the_star_needs() -> None:
    pattern = read_pattern("gatepost-stars")
    layout = spread(read_units(pattern), "throw")
    star = next(s for s in layout.slots if s.unit == "star")
    assert [(p.width, p.count) for p in star.kit] == [(F(9, 2), 1), (F(5, 2), 8)]
    plain = sum(
        n for (name, mirrored), n in layout.makes.items() if name == "chain" and not mirrored
    )
    mirrored = layout.makes["chain", True]
    assert plain == mirrored == 14


def test_same_as_shares_a_slot_and_different_from_makes_a_pair() -> None:
    text = HEAD + 'rows = [["pair"]]\n' + PAIR.replace(
        'second = { stack = "Prints" }',
        'second = { stack = "Prints" }\nthird = { same_as = "first" }',
    ).replace('name = "two"\nshape = "plain"\nwidth = "3"\nheight = "3"\nfabric = "second"',
              'name = "two"\nshape = "half-square triangles"\nwidth = "3"\nheight = "3"\n'
              'upper_left = "second"\nlower_right = "third"')  # fmt: skip
    layout = spread(read_units(parse_pattern(text)), "mat")
    assert [s.fabric for s in layout.slots] == ["first", "second"]
    assert layout.slots[0].different == (1,)
    assert layout.slots[1].different == (0,)
    # Two triangles of 'first' in 'one' twice, two as 'third': four halves are two squares.
    assert [(p.width, p.count) for p in layout.slots[0].kit] == [(F(31, 8), 2)]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('second = { stack = "Prints" }', 'second = { same_as = "first" }\n'), "another fabric"),
        (('second = { stack = "Prints" }', 'second = { same_as = "second" }'), "circle"),
        (
            ('second = { stack = "Prints" }',
             'second = { same_as = "x" }\nx = { same_as = "y" }\ny = { same_as = "second" }'),
            "circle: second → x → y → second",
        ),
        (('stack = "Prints" }', 'stack = "Scraps" }'), "one of Prints, not 'Scraps'"),
        (('fabric = "second"', 'fabric = "other"'), "a fabric of this unit"),
        (('shape = "plain"', 'shape = "hexagon"'), "half-square triangles"),
        (('["two", "one, turned 180"]', '["two"]'), "row 2"),
        (('["two", "one, turned 180"]', '["two", "one, turned 45"]'), "turned 90"),
        (('["two", "one, turned 180"]', '["two", "three"]'), "not 'three'"),
        (('["two", "one, turned 180"]', '["two", "pair"]'), "comes later or is this one"),
        (('width = "3"', 'width = "4"'), "the patch is a square"),
        (('fabric = "second"', 'fabric = "second"\ncolour = "red"'), "one of the keys"),
        (('width = "3"', 'width = "-3"'), "a length in inches"),
        (('width = "3"', 'width = nan'), "a length in inches"),
        (('rows = [["one", "two"], ["two", "one, turned 180"]]', 'rows = 3'), "a list of rows"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(change: tuple[str, str], says: str) -> None:
    text = HEAD + 'rows = [["pair"]]\n' + PAIR
    read(text)
    assert change[0] in text
    with pytest.raises(PatternError, match=r"^trial\.toml: ") as caught:
        read(text.replace(change[0], change[1], 1))
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("size", "says"),
    [
        ('rows = [["pair", "none"]]', "not 'none'"),
        ("across = 3", "a [layout] with a tile"),
        ('rows = [["pair"]]\nacross = 3', "not both"),
        ('finished = ["9", "6"]\nrows = [["pair"]]', "6 by 6"),
        ('rows = [["pair"]]\nborder = [{ name = "b", width = "0", fabric = "x" }]', "width"),
    ],
)
def test_a_size_that_does_not_add_up_is_refused(size: str, says: str) -> None:
    with pytest.raises(PatternError) as caught:
        read(HEAD + size + "\n" + PAIR)
    assert says in str(caught.value)


@pytest.mark.parametrize("across", ["1.0", "true"])
def test_a_pattern_is_checked_although_one_equal_to_it_was_read(across: str) -> None:
    tile = '[layout]\ntile = [["pair"]]\n'
    text = HEAD + "across = 1\ndown = 1\n" + PAIR + tile
    read(text)
    with pytest.raises(PatternError, match="across"):
        read(text.replace("across = 1", f"across = {across}"))


def test_borders_and_sections_count_into_the_size() -> None:
    text = (
        HEAD.replace("Prints = 4", "Prints = 8")
        + 'rows = [["four", "four, turned 90"]]\nfinished = ["30", "18"]\n'
        + 'border = [{ name = "b", width = "2", fabric = "x" }, '
        + '{ name = "c", width = "1", fabric = "background" }]\n'
        + PAIR
        + '[[section]]\nname = "four"\nrows = [["pair", "pair, mirrored"], ["pair", "pair"]]\n'
    )
    layout = spread(read_units(parse_pattern(text)), "mat")
    assert (layout.width, layout.height) == (30, 18)
    assert layout.makes["pair", True] == 2
    assert layout.makes["pair", False] == 6
    covered = sum(area_and_center(f.polygon)[0] for f in layout.facets)
    assert covered == pytest.approx(30 * 18)


def test_a_kit_larger_than_a_square_is_told_where_it_is_cut() -> None:
    text = HEAD + 'rows = [["pair"]]\n' + PAIR
    with pytest.raises(CuttingError, match="one unit wants"):
        cut_stacks(spread(read_units(parse_pattern(text)), "mat"), {"Prints": ()}, side=F(5))


def test_a_unit_that_wants_more_than_a_square_is_refused_when_it_is_read() -> None:
    """Whatever is said of the unit: file, unit, fabric, what it wants and what a square gives."""
    text = HEAD + 'rows = [["pair"]]\n' + PAIR.replace('"3"', '"6"')
    with pytest.raises(PatternError) as caught:
        parse_pattern(text, source="trial.toml")
    # Half-square triangles of 6 in, two of one fabric, are one square of 6 7/8 in.
    assert str(caught.value) == (
        "trial.toml: unit 1, fabrics, second: expected pieces that straight cuts of one square of "
        "10 in give; one 'pair' wants 2 of 6½ × 6½ in of one fabric, and a square gives at most "
        "1 of 6½ × 6½ of these."
    )
    larger = text.replace("[[stack]]", 'square_inches = "14"\n[[stack]]', 1)
    assert read_units(parse_pattern(larger)).quilts
    with pytest.raises(PatternError, match="a square gives none of these"):
        parse_pattern(HEAD + 'rows = [["pair"]]\n' + PAIR.replace('"3"', '"12"'))


def test_a_unit_of_two_sizes_is_told_what_of_them_fits() -> None:
    """Beside a centre and two sides a corner of 3 1/2 in is left: one strip of 2 in, not two."""
    text = """
rows = [["star"]]
[[unit]]
name = "star"
rows = [["center", "wide"], ["wide, turned 90", "tall"]]
[unit.fabrics]
print = { stack = "Prints" }
[[unit.patch]]
name = "center"
shape = "plain"
width = "6"
height = "6"
fabric = "print"
[[unit.patch]]
name = "wide"
shape = "plain"
width = "3"
height = "6"
fabric = "print"
[[unit.patch]]
name = "tall"
shape = "plain"
width = "3"
height = "3"
fabric = "print"
"""
    assert read_units(parse_pattern(HEAD + text)).quilts
    strip = '{ width = "1 1/2", fabric = "print" }'
    crowded = text.replace('"tall"]]', '"four"]]') + (
        '[[unit.patch]]\nname = "four"\nshape = "strip set"\nwidth = "3"\nheight = "3"\n'
        f"strip = [{strip}, {strip}]\n"
    )
    with pytest.raises(PatternError) as caught:
        parse_pattern(HEAD + crowded, source="star.toml")
    words = str(caught.value)
    assert "one 'star' wants 1 of 6½ × 6½, 2 of 3½ × 6½ and 2 of 2 × 3½ in of one fabric" in words
    assert "gives at most 1 of 6½ × 6½, 2 of 3½ × 6½ and 1 of 2 × 3½ of these" in words


RAILS = """
[[unit]]
name = "rails"
rows = [["rail", "rail", "rail", "rail"], ["rail", "rail", "rail", "rail"]]
[unit.fabrics]
print = { stack = "Prints" }
ground = "background"
[[unit.patch]]
name = "rail"
shape = "strip set"
width = "3"
height = "3"
strip = [{ width = "1 1/2", fabric = "print" }, { width = "1 1/2", fabric = "ground" }]
"""


@pytest.mark.parametrize(
    ("rails", "runs"),
    [(1, {F(7, 2): 1}), (2, {F(7): 1}), (4, {F(7): 2}), (5, {F(7): 2, F(7, 2): 1}), (8, {F(7): 4})],
)
def test_strips_are_no_longer_than_a_square_and_the_background_is_cut_as_long(
    rails: int, runs: dict[F, int]
) -> None:
    """A churn dash has four rails of 3 1/2 in: 14 in of strip, two lengths of 7 in."""
    rows = "rows = [[" + ", ".join(['"rail"'] * rails) + "]]"
    text = RAILS.replace(RAILS[RAILS.index("rows") : RAILS.index("\n[unit.fabrics]")], rows)
    unit = read_units(parse_pattern(HEAD + 'rows = [["rails"]]\n' + text)).units["rails"]
    kits, yardage = unit_needs(unit)
    assert {piece.height: piece.count for piece in kits["print"]} == runs
    assert {piece.width for piece in kits["print"]} == {F(2)}
    # One segment needs no cut across.
    then = {long: Then.SEGMENT if long == F(7, 2) else Then.STRIP for long in runs}
    assert yardage["background"] == {(F(2), long, then[long]): n for long, n in runs.items()}
    assert {piece.height: piece.then for piece in kits["print"]} == then
    assert longest_run(unit, unit.patches[0]) == min(rails, 2)


def test_strips_of_yardage_alone_run_across_the_cloth() -> None:
    """Nothing shortens them, so what is cut from them is counted."""
    text = RAILS.replace('print = { stack = "Prints" }', 'print = "border"')
    unit = read_units(parse_pattern(HEAD + 'rows = [["rails"]]\n' + text)).units["rails"]
    kits, yardage = unit_needs(unit)
    assert kits == {}
    assert yardage["border"] == yardage["background"] == {(F(2), F(7, 2), Then.ACROSS): F(8)}
    assert longest_run(unit, unit.patches[0]) is None


def test_a_unit_that_no_quilt_has_may_want_what_it_likes() -> None:
    spare = PAIR.replace('"3"', '"9"').replace('"pair"', '"spare"')
    assert read_units(parse_pattern(HEAD + 'rows = [["pair"]]\n' + PAIR + spare)).quilts


def test_a_size_that_deals_too_few_squares_for_its_quilt_is_refused_when_it_is_read() -> None:
    """At every depth and in every size: 8 pairs want 8 kits of each fabric."""
    section = '[[section]]\nname = "four"\nrows = [["pair", "pair"], ["pair", "pair"]]\n'
    second = '[[size]]\nname = "large"\nrows = [["four", "four"]]\nsquares = { Prints = 3 }\n'
    text = HEAD + 'rows = [["pair"]]\n' + second + PAIR + section
    with pytest.raises(PatternError) as caught:
        parse_pattern(text, source="trial.toml")
    words = str(caught.value)
    assert words.startswith("trial.toml: size 2, squares, Prints: expected at least ")
    least = int(words.split("at least ")[1].split(",")[0])
    assert f"at least {least}, not 3: the units of this size take the pieces of {least}" in words
    enough = parse_pattern(text.replace("Prints = 3", f"Prints = {least}"))
    squares = {"Prints": [f"A{n}" for n in range(least)]}
    assert cut_stacks(spread(read_units(enough), "large"), squares)[0].ok
    assert not cut_stacks(spread(read_units(enough), "large"), {"Prints": squares["Prints"][1:]})[
        0
    ].ok


def test_of_many_small_pieces_the_area_is_asked_for_when_a_pattern_is_read() -> None:
    """Of more mixes of kits than are tried then it says what is needed at least."""
    row = "[" + ", ".join(['"pair"'] * 40) + "]"
    section = f'[[section]]\nname = "row"\nrows = [{row}]\n'
    text = HEAD + 'rows = [["row"]]\n' + PAIR.replace('"3"', '"1"') + section
    # 40 kits of a square of 1 7/8 in and of two of 1 1/2 in: 320.6 square inches.
    with pytest.raises(PatternError, match="expected at least 4, not 3"):
        parse_pattern(text.replace("Prints = 4", "Prints = 3"))
    assert read_units(parse_pattern(text)).quilts


@pytest.mark.parametrize("name", sorted(shipped_patterns()))
def test_what_is_checked_of_a_quilt_is_what_its_layout_takes(name: str) -> None:
    """Units counted through the rows, and their kits, are those of the quilt spread out."""
    sewing = read_units(read_pattern(name))
    for size, quilt in sewing.quilts.items():
        layout = spread(sewing, size)
        times = count_units(quilt, sewing.units)
        made: dict[str, int] = {}
        for (unit, _), count in layout.makes.items():
            made[unit] = made.get(unit, 0) + count
        assert times == made
        for slot in layout.slots:
            assert unit_needs(sewing.units[slot.unit])[0][slot.fabric] == slot.kit


TIGHT = (
    HEAD.replace("Prints = 4", "Prints = 2")
    + """
rows = [["patch", "patch", "patch", "patch"], ["patch", "patch", "patch", "patch"]]
[[unit]]
name = "patch"
rows = [["a"]]
[unit.fabrics]
print = { stack = "Prints" }
[[unit.patch]]
name = "a"
shape = "plain"
width = "4 1/2"
height = "4 1/2"
fabric = "print"
"""
)
"""Eight patches of 5 in as cut: a 10 in square gives four of them, and no more than that."""


def test_what_fits_only_untrimmed_is_laid_to_trimming() -> None:
    """Squares of 4 5/8 in, two of them of one fabric, do not lie in the 8 in that are left."""
    text = HEAD + 'rows = [["pair"]]\n' + PAIR.replace('"3"', '"4 1/8"')
    layout = spread(read_units(parse_pattern(text)), "mat")
    assert cut_stacks(layout, {"Prints": ("A1", "A2", "A3")})[0].ok
    with pytest.raises(CuttingError) as caught:
        cut_stacks(layout, {"Prints": ("A1", "A2", "A3")}, trim=F(1))
    words = str(caught.value)
    assert "trimming 1 in from each edge is what makes them not fit" in words
    assert "the 8 in that it leaves" in words
    assert "all 10 in do" in words
    # What does not fit the whole square either is not laid to trimming.
    text = HEAD + 'rows = [["pair"]]\n' + PAIR.replace('"3"', '"4 1/8"')
    layout = spread(read_units(parse_pattern(text)), "mat")
    with pytest.raises(CuttingError, match="does not give them") as caught:
        cut_stacks(layout, {"Prints": ()}, side=F(7), trim=F(1, 4))
    assert "trim" not in str(caught.value)


@pytest.mark.parametrize(
    ("squares", "trim", "says"),
    [
        (2, F(1, 4), "It is trimming ¼ in from each edge that makes them fall short: untrimmed"),
        (1, F(1, 4), "A part of that comes from trimming ¼ in from each edge: untrimmed, 2 would"),
        (1, F(0), "1 short."),
    ],
)
def test_squares_that_fall_short_by_trimming_say_so(squares: int, trim: F, says: str) -> None:
    pattern = parse_pattern(TIGHT)
    layout = spread(read_units(pattern), "mat")
    (cutting,) = cut_stacks(layout, {"Prints": [f"A{n}" for n in range(squares)]}, trim=trim)
    assert not cutting.ok
    assert says in cutting.sentence
    assert ("trimming" in cutting.sentence) == bool(trim)


def test_mixed_kits_share_squares_as_brute_force_does() -> None:
    """Kits of 3 7/8 in and 3 1/2 in squares: fewest squares against trying every mix."""
    text = HEAD.replace("Prints = 4", "Prints = 9") + 'rows = [["pair", "pair", "pair"]]\n' + PAIR
    layout = spread(read_units(parse_pattern(text)), "mat")
    names = [f"A{i}" for i in range(9)]
    cutting = cut_stacks(layout, {"Prints": names})[0]
    # Each pair takes one kit of one 3 7/8 in square and one kit of two 3 1/2 in squares.
    assert cutting.wanted == (3, 3)
    # 3 x 1 and 3 x 2 squares of about 3 1/2 to 3 7/8 in are nine, and a 10 in square holds 2 x 2
    # of them: nine need three squares, if no kit is torn apart.
    assert cutting.needed == 3
    assert [sum(c.kits[k] for c in cutting.cuts) for k in (0, 1)] == [3, 3]
    # Six kits over nine squares: none gives more than one.
    assert max(sum(c.kits) for c in cutting.cuts) == 1


def test_endless_nesting_is_refused_at_once() -> None:
    """Twelve sections, each of two of the one before, or each of ten by ten."""
    nested = "".join(
        f'[[section]]\nname = "s{n}"\nrows = [["s{n - 1}", "s{n - 1}"]]\n' for n in range(1, 12)
    ).replace('"s0"', '"pair"')
    with pytest.raises(PatternError, match="8 deep"):
        read(HEAD + 'rows = [["pair"]]\n' + PAIR + nested)
    row = "[" + ", ".join(['"X"'] * 10) + "]"
    square = "[" + ", ".join([row] * 10) + "]"
    huge = "".join(
        f'[[section]]\nname = "s{n}"\nrows = {square}\n'.replace(
            "X", f"s{n - 1}" if n > 1 else "pair"
        )
        for n in range(1, 7)
    )
    with pytest.raises(PatternError, match="at most 50000 patches"):
        read(HEAD + 'rows = [["s6"]]\n' + PAIR + huge)


def test_too_many_prints_to_pair_are_refused_in_words() -> None:
    from colorcore.piecing import pair

    text = HEAD.replace("Prints = 4", "Prints = 2000") + 'rows = [["s2"]]\n' + PAIR
    row = "[" + ", ".join(['"X"'] * 40) + "]"
    for n, inner in ((1, "pair"), (2, "s1")):
        rows = "[" + ", ".join([row] * (40 if n == 1 else 1)) + "]"
        text += f'[[section]]\nname = "s{n}"\nrows = {rows}\n'.replace("X", inner)
    layout = spread(
        read_units(parse_pattern(text.replace(", ".join(['"s1"'] * 40), '"s1"'))), "mat"
    )
    assert len(layout.slots) == 3200
    with pytest.raises(CuttingError, match="3200 prints"):
        pair(layout, (), {})


def test_pieces_beyond_counting_are_refused_in_words() -> None:
    from colorcore.cutting import Guillotine, PieceWanted

    with pytest.raises(CuttingError, match="too small or too many"):
        Guillotine(F(10), F(10), [PieceWanted("crumbs", F(1, 64), F(1, 64), 10_000)])
    crumbs = [PieceWanted(str(n), F(n, 64), F(n, 64), 90) for n in (49, 51)]
    with pytest.raises(CuttingError, match="too small or too many"):
        Guillotine(F(10), F(10), crumbs).frontier()


def test_no_number_of_squares_that_give_nothing_is_enough() -> None:
    with pytest.raises(CuttingError, match="could not be shared out"):
        fewest_squares([(0,)], (3,))
    assert fewest_squares([(2,), (3,)], (7,)) == 3
