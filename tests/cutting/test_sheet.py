"""The making sheet: what it says, that every drawing is sound, and that no word becomes markup."""

import re
import shutil
import subprocess
from dataclasses import replace
from fractions import Fraction as F
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from colorcore.bundle import Bundle, PhotoRecord
from colorcore.contrast import Background
from colorcore.errors import CuttingError, OutputError, PatternError
from colorcore.finishing import Candidate
from colorcore.making import Making, MakingChoices, plan_making
from colorcore.pattern import Pattern, parse_pattern, read_pattern
from colorcore.sheets import cutting_pdf
from colorcore.sheets.cutting_content import sheet_content
from colorcore.sheets.cutting_drawings import cutting_stages
from colorcore.sheets.cutting_outputs import draw_beside
from colorcore.sheets.cutting_page import making_sections
from colorcore.sheets.cutting_parts import Content, Drawn
from colorcore.sheets.cutting_pdf import making_pdf
from colorcore.sheets.cutting_recipes import maps
from colorcore.sheets.letters import missing_letters
from colorcore.stacking import Placement, Plan, PlannedStack
from tests.piecing.making import deal_in_order, make_squares

GROUND = Background("cream", (94.0, 0.5, 5.0))
EVIL = '#import "x" <script>alert(1)</script> $x$ & \\ *b* [c]'


def make_making(
    name: str | Pattern = "gatepost-stars", *, size: int = 0, **choices: object
) -> Making:
    pattern = read_pattern(name) if isinstance(name, str) else name
    squares = make_squares(pattern.sizes[size].squares, copies=4)
    stacks = deal_in_order(pattern, size, squares)
    plan = Plan(
        pattern=pattern.name,
        size=pattern.sizes[size].name,
        background=GROUND,
        stacks=tuple(
            PlannedStack(
                rule.name, rule.role.value, rule.value.value,
                tuple(
                    Placement(s, "dark", "why", None, 30.0, 30.0, 3.0, "holds")
                    for s in stacks[rule.name]
                ),
            )
            for rule in pattern.sizes[size].stacks
        ),
        left_over=(),
    )  # fmt: skip
    photo = PhotoRecord("table.jpg", "0" * 64, 100, 100, "paper", "B", "fair")
    bundle = Bundle(tuple(squares), (photo,), (), "Harbour at dusk")
    return plan_making(plan, bundle, pattern, MakingChoices(**choices))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def making() -> Making:
    threads = [Candidate("cream", (93.0, 0.0, 6.0)), Candidate(EVIL, (20.0, 0.0, 0.0))]
    return make_making(
        threads=threads,
        fabrics=[Candidate("plum", (30.0, 20.0, -10.0), 20.0)],
        background_inches=F(100),
        shrinkage=0.02,
    )


@pytest.fixture(scope="module")
def content(making: Making) -> Content:
    return sheet_content(making)


def drawings(content: Content) -> list[Drawn]:
    found = [*content.pictures, *content.maps, *content.backing]
    found += [kind.drawing for page in content.cutting for kind in page.kinds]
    for recipe in content.recipes:
        found += [recipe.drawing, *([recipe.photo] if recipe.photo else [])]
    return found


def test_the_lead_and_the_shopping_list_agree_with_the_making(
    making: Making, content: Content
) -> None:
    assert content.title == "Gatepost Stars"
    assert content.lead.startswith("60 × 70 in from 42 squares and ")
    bought = {what.split(":")[0]: amount for amount, what in content.shopping}
    assert bought["backing"] == "3⅞ yards"
    assert bought["batting"] == "68 × 78 in"
    assert any("too short" in check.text for check in content.checks if not check.ok)


def test_a_backing_is_judged_beside_the_thread_that_serves_best() -> None:
    """Whatever the order in which the threads were named."""
    threads = [Candidate("cream", (93.0, 0.0, 6.0)), Candidate("black", (10.0, 0.0, 0.0))]
    fabrics = [Candidate("white", (95.0, 0.0, 2.0)), Candidate("coal", (12.0, 0.0, 0.0))]
    for wish in ("least", "most"):
        one, other = (
            make_making(threads=some, fabrics=fabrics, thread_wish=wish)
            for some in (threads, threads[::-1])
        )
        assert one.fabrics["backing"] == other.fabrics["backing"]
        beside = {choice.candidate.name: choice.words for choice in one.fabrics["backing"]}
        near = {"cream": "white", "black": "coal"}[one.threads[0].candidate.name]
        kind = [name for name, said in beside.items() if "hardly shows on it" in said]
        assert kind == [near]


def test_what_is_bought_leaves_room_for_straightening_the_ends() -> None:
    """108 in of strips are three yards to the inch, and no shop's cut is square to the fold."""
    need = next(n for n in make_making().yardage if n.name == "background")
    assert (need.length, need.to_buy) == (108, 110)
    content = sheet_content(make_making())
    assert content.lead.endswith("3⅛ yards of background.")
    assert [page.buy for page in content.yardage] == ["3⅛ yards", "⅝ yard"]
    bought = {what.split(":")[0]: amount for amount, what in content.shopping}
    assert (bought["background (cream)"], bought["binding"]) == ("3⅛ yards", "⅝ yard")
    assert any("2 in of each yardage" in what for _, what in content.shopping)


def test_what_the_stash_has_of_the_background_is_not_bought_and_not_offered_twice() -> None:
    """The background takes 108 in and 2 in for its ends; binding 17½ in; backing 136 in."""

    def told(inches: float, **choices: object) -> tuple[Making, Content, dict[str, str]]:
        cloths = [Candidate("Cream", GROUND.lab, inches), Candidate("plum", (30, 20, -10), 60.0)]
        making = make_making(fabrics=cloths, **choices)
        content = sheet_content(making)
        return making, content, {what: amount for amount, what in content.shopping}

    making, content, bought = told(50.0)
    # Of 50 in come the strips of 8½, 5½ (four), 3 (six) and one of 1½ in.
    assert bought["background (cream): patches, 3⅛ yards in all; you have 1⅜ yards of it in your "
                  "stash"] == "1¾ yards"  # fmt: skip
    check = "Background (Cream, in your stash): 50 in are 58 in too short: 108 in are needed."
    assert check in [check.text for check in content.checks if not check.ok]
    assert [page.enough for page in content.yardage] == [check, ""]
    assert content.yardage[0].buy == "3⅛ yards"
    for _, proposals in content.fabrics:
        cream = next(words for words in proposals if words.startswith("Cream"))
        assert "it is the background, which takes all of it" in cream
    _, _, bought = told(108.0)
    assert bought["background (cream): patches, 3 yards in all and none to straighten its ends; "
                  "you have 3 yards of it in your stash"] == "nothing"  # fmt: skip
    making, content, bought = told(120.0)
    assert bought["background (cream): patches, 3⅛ yards in all; you have 3¼ yards of it in your "
                  "stash"] == "nothing"  # fmt: skip
    binding = next(c for c in making.fabrics["binding"] if c.candidate.name == "Cream")
    assert (binding.left, binding.enough) == (120 - 108 - 17.5, False)
    making, _, _ = told(126.0)
    assert next(c for c in making.fabrics["binding"] if c.candidate.name == "Cream").enough
    # What the maker says wins over the stash, and is told as hers.
    _, content, bought = told(50.0, background_inches=F(112))
    assert bought["background (cream): patches, 3⅛ yards in all; you have 3 yards of it"] == (
        "nothing"
    )
    assert "Background: 112 in are enough; 4 in are left over." in [c.text for c in content.checks]
    # A cloth of another name is none of the background.
    cloths = [Candidate("cream sateen", GROUND.lab, 50.0)]
    assert all(need.enough is None for need in make_making(fabrics=cloths).yardage)


def test_squares_larger_than_the_drawings_show_are_cut_down_first(making: Making) -> None:
    assert not any("First cut" in check.text for check in sheet_content(making).checks)
    small = replace(making.pattern, square_inches=5.0)
    for metric, side in ((False, "5 in"), (True, "12.7 cm")):
        checks = sheet_content(replace(making, pattern=small), metric=metric).checks
        (told,) = [check for check in checks if "First cut" in check.text]
        assert not told.ok
        assert told.text.startswith(f"First cut a square of {side} from the top left corner")
        cut = [c.square for stack in making.cuts for c in stack.cuts if any(c.kits)]
        assert all(square in told.text for square in cut)


@pytest.mark.parametrize(("name", "told"), [("lamplight-rails", ""), ("gatepost-stars", "melts")])
def test_no_square_melts_into_a_background_that_is_not_there(name: str, told: str) -> None:
    making = make_making(name)
    stacks = tuple(
        replace(s, placements=tuple(replace(p, verdict="melts") for p in s.placements))
        for s in making.plan.stacks
    )
    content = sheet_content(replace(making, plan=replace(making.plan, stacks=stacks)))
    assert {square[3] for row in content.stacks for square in row.squares} == {told}


def test_what_cannot_be_undone_of_cloth_is_cautioned_first(content: Content) -> None:
    assert content.cautions[0].startswith("Cloth: do not wash precut squares")
    page = "".join(str(section.html) for section in making_sections(content))
    assert "what runs there runs in the quilt" in page


def test_squares_without_a_thread_to_spare_are_to_be_measured(content: Content) -> None:
    """Four points of 2½ in take 10 in; three patches of 3 in leave an inch."""
    told = [check for check in content.checks if check.text.startswith("Measure every square")]
    assert [check.text for check in told] == [
        "Measure every square of Stars before you cut it: its pieces take all of the 10 in, from "
        "edge to edge."
    ]
    assert not told[0].ok, "it is for the maker to do"


def test_every_square_is_cut_once_and_every_piece_is_on_the_map(
    making: Making, content: Content
) -> None:
    cut = [square for page in content.cutting for kind in page.kinds for square in kind.squares]
    assert sorted(cut) == sorted(s.square for stack in making.cuts for s in stack.cuts)
    on_map = re.findall(r">([A-F][1-7])</text>", "".join(d.svg for d in content.maps))
    assert sorted(on_map) == sorted(making.pairing.squares())
    in_rows = " ".join(words for row in content.rows for _, words in row.units)
    assert sorted(re.findall(r"[A-F][1-7]", in_rows)) == sorted(making.pairing.squares())


def test_counts_of_units_add_up(making: Making, content: Content) -> None:
    made = {recipe.name: recipe.make for recipe in content.recipes}
    assert made["star"] == "Make 14"
    assert made["chain"] == "Make 28: 14 as drawn and 14 mirrored"
    star = next(r for r in content.recipes if r.name == "star")
    assert ("b", "Stars", "8 of 2½ × 2½ in (112 in all)") in star.pieces


def test_every_drawing_is_sound_and_has_words(content: Content) -> None:
    shown = drawings(content)
    assert len(shown) > 15
    ids: list[str] = []
    for drawn in shown:
        assert drawn.words
        if drawn.svg:
            root = ElementTree.fromstring(drawn.svg)
            assert root.get("aria-label")
            ids += [e.get("id") or "" for e in root.iter() if e.get("id")]
        else:
            assert drawn.jpeg.startswith(b"\xff\xd8\xff")
    assert len(ids) == len(set(ids))


def test_stages_of_cuts(making: Making) -> None:
    """Six 3 in squares from 10 in: two cuts across the whole, then three across each strip."""
    chain = next(s for s in making.cuts if s.stack == "First chain").cuts[0].cutting
    assert sorted(cutting_stages(chain)) == [1, 1, 2, 2, 2, 2, 2, 2]


def test_the_map_can_be_moved_sideways_on_a_phone(content: Content) -> None:
    page = "".join(str(section.html) for section in making_sections(content))
    assert page.count('<div class="pan" tabindex="0"') == len(content.maps)


def test_pdf_is_a_tagged_document_and_the_same_every_time(content: Content) -> None:
    made = making_pdf(content)
    assert made.startswith(b"%PDF-")
    assert b"/StructTreeRoot" in made
    assert made == making_pdf(content)
    assert made != making_pdf(content, paper="a4")
    with pytest.raises(OutputError, match="paper"):
        making_pdf(content, paper="foolscap")


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.names: list[str] = []
        self.pictures_without_words = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.append(tag)
        if tag == "img" and not dict(attrs).get("alt"):
            self.pictures_without_words += 1


def test_words_from_outside_never_become_markup(making: Making, content: Content) -> None:
    page = "".join(str(section.html) for section in making_sections(content))
    tags = Tags()
    tags.feed(page)
    assert "script" not in tags.names
    assert "&lt;script&gt;" in page
    assert tags.pictures_without_words == 0
    evil = replace(content, title=EVIL, kicker=EVIL, lead=EVIL, footer=EVIL)
    assert making_pdf(evil).startswith(b"%PDF-")


def test_a_name_of_control_characters_still_sets(content: Content) -> None:
    assert making_pdf(replace(content, title="a\x00b\u202ec\ud800")).startswith(b"%PDF-")


ROW = r"\bRow (\d+)(?![\d:])"
"""A row of the sewing order; those of a recipe's pressing have a colon behind."""


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="apt-get install poppler-utils")
@pytest.mark.parametrize(("units", "paper"), [(1, "a4"), (4, "us-letter"), (6, "us-letter")])
def test_no_page_and_no_map_comes_between_the_rows(
    content: Content, tmp_path: Path, units: int, paper: str
) -> None:
    """However much of a page the recipes before it leave."""
    path = tmp_path / "plan.pdf"
    recipes = (content.recipes * 3)[:units]
    path.write_bytes(making_pdf(replace(content, recipes=recipes), paper=paper))
    told = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    pages = told.stdout.split("\f")
    heads = [n for n, page in enumerate(pages) if re.search("^Sewing order$", page, re.M)]
    rows = [n for n, page in enumerate(pages) for _ in re.findall(ROW, page)]
    assert rows == heads * len(content.rows)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="apt-get install poppler-utils")
@pytest.mark.parametrize("units", [1, 2, 4])
def test_more_rows_than_a_page_holds_go_on_on_the_next(
    content: Content, tmp_path: Path, units: int
) -> None:
    """Nor does the map come between them then."""
    path = tmp_path / "plan.pdf"
    rows = tuple(replace(content.rows[0], number=n) for n in range(1, 25))
    recipes = (content.recipes * 3)[:units]
    path.write_bytes(making_pdf(replace(content, rows=rows, recipes=recipes)))
    told = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    found = [int(n) for n in re.findall(ROW, told.stdout)]
    assert found == list(range(1, 25))
    pages = told.stdout.split("\f")
    (map_page,) = (n for n, page in enumerate(pages) if "Where every piece goes\n" in page)
    assert map_page < min(n for n, page in enumerate(pages) if re.search(ROW, page))


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="apt-get install poppler-utils")
def test_what_to_look_at_again_comes_before_the_first_cut(tmp_path: Path) -> None:
    making = make_making()
    doubted = replace(making.bundle.photos[0], trust="D")
    making = replace(
        making,
        plan=replace(making.plan, second_look=("Stars: A4 runs into the background.",)),
        bundle=replace(making.bundle, photos=(doubted,)),
    )
    path = tmp_path / "plan.pdf"
    path.write_bytes(making_pdf(sheet_content(making)))
    told = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    text = " ".join(told.stdout.split())
    before = text[text.index("Before the first cut") : text.index("The stacks")]
    assert "Look again: Trust grade D" in before
    assert "Look again: Stars: A4 runs into the background." in before


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="apt-get install poppler-utils")
def test_the_sheet_spells_names_and_says_so(
    content: Content, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """As on a machine without fonts beyond those that come along."""
    monkeypatch.setattr(
        cutting_pdf, "missing_letters", lambda texts: missing_letters(texts, system_fonts=False)
    )
    path = tmp_path / "plan.pdf"
    path.write_bytes(making_pdf(replace(content, title="あいぞめ", lead='ジ {한} "x" \\')))
    text = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    assert "aizome" in text.stdout
    assert '{han} "x" \\' in text.stdout
    assert "spelled here" in " ".join(text.stdout.split())
    path.write_bytes(making_pdf(content))
    text = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    assert "spelled here" not in " ".join(text.stdout.split())


def test_centimetres_everywhere(making: Making) -> None:
    metric = sheet_content(making, metric=True)
    page = "".join(str(section.html) for section in making_sections(metric))
    text = re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.S)
    assert not re.search(
        r"\d\s*(in\b(?! all)|yards?)", text.replace("too short", "").split("Background:")[0]
    )
    assert "6.35" in text
    assert metric.lead.startswith("152.4 × 177.8 cm")


@pytest.mark.parametrize("name", ["hedgerow-geese", "lamplight-rails"])
def test_other_patterns_make_a_sheet(name: str) -> None:
    other = make_making(name, yardage={"border": (30.0, 5.0, -20.0)})
    content = sheet_content(other)
    assert making_pdf(content).startswith(b"%PDF-")
    assert len(content.rows) == len(other.layout.quilt.rows)
    for drawn in drawings(content):
        if drawn.svg:
            ElementTree.fromstring(drawn.svg)


def test_a_large_quilt_has_its_map_on_several_pages() -> None:
    shown = maps(make_making("gatepost-stars", size=1))
    assert len(shown) == 4
    assert "rows 1 to 4, units 1 to 4" in shown[0].words


def test_trim_and_locks_reach_the_sheet(making: Making) -> None:
    with pytest.raises(CuttingError, match="straight cuts"):
        make_making(trim=F(3, 4))
    other = make_making(seed=5)
    beside = draw_beside(making, other, long_side=300)
    assert beside.shape[1] == 2 * round(60 * 300 / 70) + 24


def test_squares_too_small_for_the_pattern_are_told(making: Making) -> None:
    small = tuple(replace(s, side_inches=5.0) for s in making.bundle.squares)
    with pytest.raises(CuttingError, match=r"squares of 10 in, and .* as 5 in"):
        plan_making(making.plan, replace(making.bundle, squares=small), making.pattern)


def test_a_pattern_without_units_is_told() -> None:
    plain = parse_pattern(
        'name = "Only stacks"\n[[stack]]\nname = "Darks"\nrole = "focal"\nvalue = "dark"\n'
        "[[size]]\nname = 'mat'\nsquares = { Darks = 1 }\n"
    )
    plan = Plan("Only stacks", "mat", GROUND, (), ())
    with pytest.raises(PatternError, match="not how to sew"):
        plan_making(plan, Bundle((), ()), plain)
