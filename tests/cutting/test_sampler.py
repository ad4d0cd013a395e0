"""A pattern of every shape, from its file to the sheet; and pattern files that are wrong."""

import tomllib
from fractions import Fraction as F
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.bundle import Bundle, PhotoRecord
from colorcore.cutting.kits import cut_stacks
from colorcore.errors import CuttingError, PatternError
from colorcore.making import MakingChoices, plan_making
from colorcore.pattern import Pattern, parse_pattern
from colorcore.pattern.layout import area_and_center, spread
from colorcore.pattern.patches import Then
from colorcore.pattern.units import read_units
from colorcore.preview import paint
from colorcore.sheets.cutting_content import sheet_content
from colorcore.sheets.cutting_page import making_sections
from colorcore.sheets.cutting_pdf import making_pdf
from colorcore.stacking import Placement, Plan, PlannedStack
from tests.cutting.test_sheet import GROUND
from tests.piecing.making import deal_in_order, make_squares

SAMPLER = (Path(__file__).parent / "sampler.toml").read_text("utf-8")


@pytest.fixture(scope="module")
def sampler() -> Pattern:
    return parse_pattern(SAMPLER, source="sampler.toml")


def test_parts_tile_the_quilt_without_overlap(sampler: Pattern) -> None:
    layout = spread(read_units(sampler), "mat")
    assert (layout.width, layout.height) == (26, 20)
    areas = sum(area_and_center(f.polygon)[0] for f in layout.facets)
    assert areas == pytest.approx(26 * 20)
    # Random points lie in exactly one part.
    rng = np.random.default_rng(2)
    for point in rng.random((400, 2)) * (26, 20):
        assert sum(_inside(f.polygon, point) for f in layout.facets) == 1


def _inside(polygon: np.ndarray, point: np.ndarray) -> bool:
    following = np.roll(polygon, -1, axis=0)
    inside = False
    for (x0, y0), (x1, y1) in zip(polygon, following, strict=True):
        if (y0 > point[1]) != (y1 > point[1]):
            inside ^= bool(point[0] < x0 + (point[1] - y0) * (x1 - x0) / (y1 - y0))
    return inside


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_turned_or_mirrored_unit_is_the_unit_turned_or_mirrored(
    turn: int, mirrored: bool
) -> None:
    """Against rotation matrices: x right and y down, so clockwise is (x, y) -> (h - y, x)."""
    how = (", mirrored" if mirrored else "") + (f", turned {turn}" if turn else "")
    head = SAMPLER[: SAMPLER.index("rows = [[")].replace('finished = ["26", "20"]', "")
    units = SAMPLER[SAMPLER.index("[[unit]]") :]
    plain, turned = (
        spread(read_units(parse_pattern(f'{head}rows = [["crown{words}"]]\n{units}')), "mat")
        for words in ("", how)
    )
    width, height = plain.width, plain.height
    lying = (width, height) if turn % 180 == 0 else (height, width)
    assert (turned.width, turned.height) == lying
    angle = np.radians(turn)
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    for one, other in zip(plain.facets, turned.facets, strict=True):
        points = one.polygon - (width / 2, height / 2)
        points = points * ((-1, 1) if mirrored else (1, 1)) @ spin + np.array(lying) / 2
        assert np.allclose(points, other.polygon)
        assert (one.slot, one.yardage) == (other.slot, other.yardage)
        # Cloth is turned with its part, and mirroring turns the sense of that.
        assert other.turn == ((-one.turn if mirrored else one.turn) + turn) % 360


def test_kits_of_every_shape(sampler: Pattern) -> None:
    layout = spread(read_units(sampler), "mat")
    kits = {
        (s.unit, s.fabric): [(p.width, p.height, p.count, p.then) for p in s.kit]
        for s in layout.slots
    }
    # Four blades are four half squares: two squares of 4 + 7/8 in.
    assert kits["pinwheel", "blade"] == [(F(39, 8), F(39, 8), 2, Then.CUT_ONCE)]
    # Two quarters, and two more as 'same as': each a square of 4 + 1 1/4 in, rounded up.
    assert kits["hourglass", "top"] == [(F(21, 4), F(21, 4), 1, Then.CUT_TWICE)]
    assert kits["flight", "goose"] == [(F(21, 4), F(21, 4), 1, Then.CUT_TWICE)]
    # Two segments of 2 + 1/2 in from one strip of 1 + 1/2 in.
    assert kits["rails", "one"] == [(F(3, 2), F(5), 1, Then.STRIP)]
    assert kits["clipped", "base"] == [(F(13, 2), F(9, 2), 1, Then.WHOLE)]
    assert ("hourglass", "bottom") not in kits


def test_the_whole_way_to_the_sheet(sampler: Pattern) -> None:
    squares = make_squares(14, seed=3)
    stacks = deal_in_order(sampler, 0, squares)
    layout = spread(read_units(sampler), "mat")
    for cutting in cut_stacks(layout, stacks):
        assert cutting.ok, cutting.sentence
        for kind in range(len(cutting.kinds)):
            assert sum(c.kits[kind] for c in cutting.cuts) == cutting.wanted[kind]
    plan = Plan(
        "Sampler", "mat", GROUND,
        tuple(
            PlannedStack(name, "fill", "mixed",
                         tuple(Placement(s, "dark", "", None, 1.0, 1.0, 1.0, "holds") for s in ids))
            for name, ids in stacks.items()
        ), (),
    )  # fmt: skip
    photo = PhotoRecord("table.jpg", "0" * 64, 100, 100, "paper", "B", "fair")
    choices = MakingChoices(yardage={"trim": (25.0, 10.0, -20.0)})
    making = plan_making(plan, Bundle(tuple(squares), (photo,)), sampler, choices)
    needs = {need.name: need for need in making.yardage}
    assert set(needs) == {"background", "trim"}
    assert needs["background"].binding is not None
    assert [b.name for b in needs["trim"].borders] == ["inner border"]
    strips = needs["background"].strips
    together = sum(k.height * k.strips for k in strips.kinds)
    assert needs["background"].length == (
        together + needs["background"].borders[0].strips.length
        + needs["background"].binding.length
    )  # fmt: skip
    content = sheet_content(making)
    assert making_pdf(content).startswith(b"%PDF-")
    words = " ".join(str(s.html) for s in making_sections(content))
    for phrase in (
        "uncut squares",
        "sky triangle",
        "in pairs",
        "cut across every 2½ in",
        "inner border",
    ):
        assert phrase in words
    # The border that was given its colour is drawn in it.
    picture = paint(making.sewn, 10)
    assert picture[190:194, 100].mean() > picture[182:186, 100].mean() + 60


def test_cut_pieces_cover_their_parts(sampler: Pattern) -> None:
    """The cloth under every part comes from a piece at least as large, seams included."""
    squares = make_squares(14, seed=3)
    layout = spread(read_units(sampler), "mat")
    from colorcore.piecing import pair
    from colorcore.preview import cloth_from_swatch, sew

    cuts = cut_stacks(layout, deal_in_order(sampler, 0, squares))
    pairing = pair(layout, cuts, {s.id: s for s in squares})
    sewn = sew(layout, pairing.supplies, {s.id: cloth_from_swatch(s) for s in squares})
    # No two parts come from one place, but for triangles that share a square.
    boxes = [
        (sewn_facet.cloth, *sewn_facet.origin)
        for facet, sewn_facet in zip(layout.facets, sewn.facets, strict=True)
        if facet.slot is not None and len(facet.polygon) == 4
    ]
    assert len(boxes) == 8
    assert len(boxes) == len(set(boxes))
    for facet in sewn.facets:
        if facet.cloth in {s.id for s in squares}:
            x0, y0, x1, y1 = facet.box
            width, height = (x1 - x0, y1 - y0) if facet.turn % 180 == 0 else (y1 - y0, x1 - x0)
            assert facet.origin[0] + width <= 10
            assert facet.origin[1] + height <= 10


document = tomllib.loads(SAMPLER)
junk = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 10**9), st.floats(), st.text(max_size=6),
    st.lists(st.text(max_size=3), max_size=2), st.dictionaries(st.text(max_size=3), st.integers()),
)  # fmt: skip


def _places(value: object, path: tuple = ()) -> list[tuple]:
    found = [path] if path else []
    items: list = []
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, list):
        items = list(enumerate(value))
    for key, inner in items:
        found += _places(inner, (*path, key))
    return found


PLACES = [p for p in _places(document) if p[0] in ("unit", "section", "layout", "binding", "size")]


@settings(max_examples=250, derandomize=True)
@given(st.data())
def test_any_value_anywhere_is_read_or_refused_in_words(data: st.DataObject) -> None:
    import copy

    changed = copy.deepcopy(document)
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(PLACES))
        at = changed
        try:
            for key in path[:-1]:
                at = at[key]
            if data.draw(st.booleans()):
                at[path[-1]] = data.draw(junk)
            else:
                del at[path[-1]]
        except (KeyError, IndexError, TypeError):
            continue
    said = _sentence_of(_toml(changed))
    assert said is None or said.startswith(("sampler.toml", "Bright: ", "Quiet: "))


def _sentence_of(text: str) -> str | None:
    """What is said against a pattern, or None if it can be cut; any other error gets through."""
    try:
        pattern = parse_pattern(text, source="sampler.toml")
        sewing = read_units(pattern)
        for name in sewing.quilts:
            stacks = {rule.name: () for rule in pattern.sizes[0].stacks}
            cut_stacks(spread(sewing, name), stacks)
    except (PatternError, CuttingError) as error:
        return str(error)
    return None


def _toml(value: dict) -> str:
    """The document as TOML, inline tables throughout; what TOML cannot say is left out."""
    import json

    def say(v: object) -> str | None:
        if v is None:
            return None
        if isinstance(v, bool):
            return "true" if v else "false"
        if isinstance(v, float):
            return repr(v) if v == v and abs(v) != float("inf") else "nan" if v != v else "inf"
        if isinstance(v, int):
            return str(v)
        if isinstance(v, str):
            return json.dumps(v) if "\x7f" not in v else '"?"'
        if isinstance(v, list):
            return "[" + ", ".join(s for s in map(say, v) if s is not None) + "]"
        assert isinstance(v, dict)
        parts = [f"{json.dumps(str(k))} = {s}" for k, i in v.items() if (s := say(i)) is not None]
        return "{" + ", ".join(parts) + "}"

    return "\n".join(
        f"{json.dumps(k)} = {s}" for k, v in value.items() if (s := say(v)) is not None
    )


def test_a_stack_without_units_stays_whole_and_a_quilt_without_prints_can_be_drawn() -> None:
    from colorcore.piecing import pair
    from colorcore.preview import sew

    plain = (
        SAMPLER[: SAMPLER.index("[[unit]]")]
        .replace(
            'rows = [["pinwheel", "crown"], ["crown, turned 180", "pinwheel, mirrored"]]',
            'rows = [["filler", "filler"]]',
        )
        .replace('finished = ["26", "20"]', "")
    )
    filler = SAMPLER[SAMPLER.index('[[unit]]\nname = "filler"') : SAMPLER.index("[[section]]")]
    pattern = parse_pattern(plain + filler)
    layout = spread(read_units(pattern), "mat")
    squares = make_squares(14)
    cuts = cut_stacks(layout, deal_in_order(pattern, 0, squares))
    assert [stack.needed for stack in cuts] == [0, 0]
    assert all(cut.cutting.waste == 1 for stack in cuts for cut in stack.cuts)
    pairing = pair(layout, cuts, {s.id: s for s in squares})
    assert pairing.supplies == ()
    assert paint(sew(layout, (), {}), 10).shape == (80, 80, 3)
