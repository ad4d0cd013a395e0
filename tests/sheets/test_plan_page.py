import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from markupsafe import Markup

from colorcore.bundle import Bundle
from colorcore.contrast import Background, Thresholds
from colorcore.sheets.plan_page import Section, plan_page
from colorcore.sheets.view import view_plan
from tests.sheets.making import make_bundle, make_photo, make_picture, make_plan, seen_again

VOID = {"meta", "img", "input", "br", "link", "hr"}


class Page(HTMLParser):
    """Every element with its attributes, and the words outside of style."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes something else"

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.elements if name == tag]

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def make_page(**options: object) -> str:
    bundle = make_bundle()
    view = view_plan(make_plan(bundle, spare=3), bundle)
    return plan_page(view, photos=[make_photo(bundle)], **options)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def html() -> str:
    return make_page()


def test_well_formed_and_self_contained(html: str) -> None:
    page = Page(html)
    assert page.open == []
    assert page.all("script") == []
    assert len(page.all("main")) == 1
    assert page.all("link") == []
    for tag, attrs in page.elements:
        for name in ("src", "href", "xlink:href", "action", "data", "poster", "srcset"):
            address = attrs.get(name)
            assert address is None or address.startswith(("data:image/jpeg;base64,", "#")), tag
        assert not [name for name in attrs if name.startswith("on")]
    style = html.split("<style>")[1].split("</style>")[0]
    assert "@import" not in style
    assert re.findall(r"url\((?!\"data:)", style) == []
    assert not re.search(r"https?://", html)


def test_links_lead_somewhere(html: str) -> None:
    page = Page(html)
    anchors = [attrs["id"] for _, attrs in page.elements if "id" in attrs]
    assert len(anchors) == len(set(anchors))
    for attrs in page.all("a"):
        assert attrs["href"] in {f"#{anchor}" for anchor in anchors}


def test_every_square_is_shown_with_words_and_numbers(html: str) -> None:
    bundle = make_bundle()
    view = view_plan(make_plan(bundle, spare=3), bundle)
    page = Page(html)
    pictures = {str(attrs["alt"]).split(":")[0]: attrs["alt"] for attrs in page.all("img")}
    cards = re.split(r'<li class="card" id="square-', html)[1:]
    by_address = {card.split('"')[0]: card for card in cards}
    assert set(by_address) == {square.id for square in bundle.squares}
    for group in view.groups:
        for card in group.cards:
            text = by_address[card.address]
            assert pictures[card.address] == f"{card.address}: {card.color}"
            assert f"L* {card.lightness:.0f}</b>" in text
            assert f"<b>{card.verdict}</b>" in text
            assert card.band in text
            assert f"{card.ratio:.1f} : 1" in text


def test_pictures_have_words(html: str) -> None:
    page = Page(html)
    assert all(attrs.get("alt") for attrs in page.all("img"))
    for attrs in page.all("svg"):
        assert attrs.get("aria-hidden") == "true" or (
            attrs.get("role") == "img" and attrs.get("aria-label")
        )
    drawing = next(a for a in page.all("svg") if a.get("class") == "drawing")
    assert "42 squares" in str(drawing["aria-label"])
    assert "A1 to A7; B1 to B7" in str(drawing["aria-label"])


def test_verdicts_differ_by_word_and_shape(html: str) -> None:
    marks = {}
    for word in ("holds", "soft", "melts"):
        found = re.search(rf'verdict-{word}"><svg.*?</svg>', html)
        assert found is not None, word
        marks[word] = re.sub(r"verdict-\w+", "", found[0])
        assert f"<b>{word}</b>" in html
    assert len(set(marks.values())) == 3


def test_each_square_is_outlined_where_it_lies(html: str) -> None:
    page = Page(html)
    points = [str(attrs["points"]) for attrs in page.all("polygon")]
    assert len(points) == 2 * 42
    square = make_bundle().squares[0]
    first = [tuple(map(float, p.split(","))) for p in points[0].split()]
    assert first == [pytest.approx(corner, abs=0.06) for corner in square.corners]


def test_a_large_photo_is_reduced_with_its_outlines() -> None:
    bundle = make_bundle(2, 2)
    photo = make_photo(bundle).repeat(8, axis=0).repeat(8, axis=1)
    records = (replace(bundle.photos[0], width=photo.shape[1], height=photo.shape[0]),)
    squares = tuple(
        replace(s, corners=tuple((8 * x, 8 * y) for x, y in s.corners)) for s in bundle.squares
    )
    bundle = replace(bundle, squares=squares, photos=records)
    html = plan_page(view_plan(make_plan(bundle, spare=1), bundle), photos=[photo])
    box = str(next(a for a in Page(html).all("svg") if a.get("class") == "drawing")["viewbox"])
    width, height = (float(v) for v in box.split()[2:])
    assert max(width, height) == 1600
    points = [str(attrs["points"]) for attrs in Page(html).all("polygon")]
    for outline in points:
        for x, y in (map(float, p.split(",")) for p in outline.split()):
            assert 0 <= x <= width
            assert 0 <= y <= height


def test_a_missing_photo_is_drawn_by_row_and_column() -> None:
    bundle = make_bundle(2, 3, photos=2)
    view = view_plan(make_plan(bundle), bundle)
    page = Page(plan_page(view, photos=[make_photo(bundle), None]))
    assert "kitchen table 2.jpg (not at hand" in page.text
    drawings = [a for a in page.all("svg") if a.get("class") == "drawing"]
    assert len(drawings) == 2
    assert "2-A1 to 2-A3; 2-B1 to 2-B3" in str(drawings[1]["aria-label"])
    assert len(page.all("polygon")) == 2 * 12


def _with_one_again() -> Bundle:
    """A bundle whose second photo lacks its middle square: it is another's of the first photo."""
    bundle = make_bundle(3, 3, photos=2)
    squares = tuple(replace(s, id=f"1-{s.id}" if s.photo == 0 else s.id) for s in bundle.squares)
    again = seen_again(squares[5], 1, 1)
    assert again.address == "2-B2"
    left = tuple(s for s in squares if s.id != again.address)
    return replace(bundle, squares=left, seen_again=(again,))


@pytest.mark.parametrize("at_hand", [True, False])
def test_a_square_that_another_photo_shows_again_carries_its_address_there(at_hand: bool) -> None:
    bundle = _with_one_again()
    name = bundle.squares[5].id
    assert name == "1-B3"
    photos = [make_photo(bundle, n) if at_hand else None for n in (0, 1)]
    html = plan_page(view_plan(make_plan(bundle), bundle), photos=photos)
    page = Page(html)
    first, second = re.findall(r'<svg class="drawing".*?</svg>', html, re.DOTALL)
    tag = r'class="tag-address"[^>]*>([^<]+)<'
    labels = [re.findall(tag, drawing) for drawing in (first, second)]
    assert labels[0].count(name) == labels[1].count(name) == 1
    assert len(labels[1]) == 9
    # Told by its line, too, and to those who hear the page.
    dashed = [re.findall(r"<polygon[^>]*stroke-dasharray", drawing) for drawing in (first, second)]
    assert [len(lines) for lines in dashed] == [0, 2]
    words = [str(a["aria-label"]) for a in page.all("svg") if a.get("class") == "drawing"]
    assert "Counted in another photo: 2-B2 is 1-B3." in words[1]
    assert "another photo" not in words[0]
    assert "Dashed: the same square" in page.text
    assert "no square was found" not in html, "a square lies there"


def test_addresses_are_kept_whole_in_words_and_left_alone_in_drawings() -> None:
    bundle = make_bundle(2, 3, photos=2)
    html = plan_page(view_plan(make_plan(bundle), bundle), photos=[None, make_photo(bundle, 1)])
    assert '<span class="whole">2-A1</span>' in html
    for drawing in re.findall(r"<svg.*?</svg>", html, re.DOTALL):
        assert "whole" not in drawing
    assert 'id="square-2-A1"' in html
    assert Page(html).open == []


def test_text_from_outside_stays_text() -> None:
    evil = '<script>alert("x")</script>'
    bundle = make_bundle(2, 3)
    records = (replace(bundle.photos[0], path=f"C:\\photos\\{evil}.jpg", notes=(evil,)),)
    bundle = replace(bundle, name=evil, photos=records, provenance=((evil, evil),))
    plan = make_plan(bundle)
    stacks = (replace(plan.stacks[0], name=evil), *plan.stacks[1:])
    plan = replace(
        plan,
        stacks=stacks,
        pattern=evil,
        second_look=(evil,),
        background=replace(plan.background, label=evil),
    )
    html = plan_page(view_plan(plan, bundle), photos=[None])
    assert "<script" not in html
    assert html.count("&lt;script&gt;") >= 7


def test_folders_of_photos_are_not_told() -> None:
    bundle = make_bundle(1, 3)
    for path in ("/home/ann/private/table.jpg", "C:\\Users\\ann\\private\\table.jpg"):
        named = replace(bundle, photos=(replace(bundle.photos[0], path=path),))
        html = plan_page(view_plan(make_plan(named), named), photos=[None])
        assert "table.jpg" in html
        assert "private" not in html


def test_thresholds_and_sections_are_told() -> None:
    section = Section("cutting", "Cut", Markup("<p>Cut <b>it</b>.</p>"))
    page = Page(make_page(thresholds=Thresholds(holds=31, melts=13), sections=[section]))
    assert "at least 31 L* units" in page.text
    assert "13 to 31 L* units" in page.text
    assert "Cut it ." in page.text
    assert page.text.index("Look again before the first cut") < page.text.index("Cut it .")
    assert "#cutting" in [attrs["href"] for attrs in page.all("a")]


def test_a_printed_background_lies_behind_the_squares() -> None:
    bundle = make_bundle(1, 3)
    ground = Background("square A1", (60.0, 0, 0), picture=make_picture((60, 0, 0), 3))
    html = plan_page(view_plan(make_plan(bundle, background=ground), bundle), photos=[None])
    assert re.search(r'--mat: #919191 url\("data:image/jpeg;base64,', html)


def test_a_stack_away_from_the_background_is_not_judged() -> None:
    bundle = make_bundle(1, 3)
    plan = make_plan(bundle)
    names = [stack.name for stack in plan.stacks]
    for apart in (names[:1], names):
        view = view_plan(plan, bundle)
        stacks = tuple(replace(g, beside_background=g.name not in apart) for g in view.stacks)
        view = replace(view, stacks=stacks)
        html = plan_page(view, photos=[None])
        assert html.count('<p class="verdict ') == 3 - len(apart)
        assert html.count('class="strip-ground"') == 3 - len(apart)
        assert ("sews none of them" in html) == (apart == names)
        assert sum(view.verdicts.values()) == 3 - len(apart)


def test_cutter_cautions_are_there(html: str) -> None:
    text = Page(html).text
    assert "rotary cutter" in text
    assert "makers\u2019 instructions" in text or "makers' instructions" in text


def test_same_input_same_page(html: str) -> None:
    assert make_page() == html


def test_pictures_must_match_the_bundle() -> None:
    bundle = make_bundle(1, 3)
    with pytest.raises(ValueError, match="1 photos wanted"):
        plan_page(view_plan(make_plan(bundle), bundle), photos=[])


def test_warnings_and_gaps_are_told_before_the_numbers() -> None:
    bundle = make_bundle(3, 4)
    sun = "A patch of <b>sun</b> lies across the table: take it again."
    photo = replace(bundle.photos[0], trust="D", notes=(sun, "a mere remark"))
    squares = tuple(s for s in bundle.squares if s.id != "B2")
    bundle = replace(bundle, squares=squares, photos=(photo,))
    html = plan_page(view_plan(make_plan(bundle), bundle), photos=[None])
    lead, rest = html.split("</header>", 1)
    assert "A patch of &lt;b&gt;sun&lt;/b&gt; lies across the table" in lead
    assert "Trust grade D" in lead
    assert "a mere remark" not in lead
    assert "a mere remark" in rest.lower()
    assert re.search(r"<b>B2</b>: no square was found there", rest)
    whole = make_bundle(3, 4)
    fine = replace(whole, photos=(replace(whole.photos[0], trust="A", notes=()),))
    html = plan_page(view_plan(make_plan(fine), fine), photos=[None])
    assert "Before you rely" not in html
    assert "no square was found" not in html
    assert "Dashed" not in html
