"""The sheets for choosing: whole, closed to what comes from outside, and told in words."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import cv2
import numpy as np
import pytest

from colorcore.comparing import compare_plans
from colorcore.contrast import Background
from colorcore.sheets.choosing_pages import (
    Side,
    compare_page,
    shopping_page,
    swap_page,
    swap_pictures,
)
from colorcore.substitutes.candidates import bundle_squares
from colorcore.substitutes.finding import find_substitutes
from colorcore.substitutes.shopping import shopping_note
from tests.substitutes.making import CREAM, bundle, pattern, plan

NASTY = '<script>alert(1)</script> & "name"'


class Reader(HTMLParser):
    """Collects tags with their attributes, and checks that what opens is closed."""

    VOID = ("meta", "img", "input", "link", "br", "circle", "path", "rect")

    def __init__(self):
        super().__init__()
        self.tags, self.open = [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in self.VOID:
            assert self.open.pop() == tag


def read(page):
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    return reader.tags


@pytest.fixture(scope="module")
def swap():
    square = plan().stacks[0].placements[4].square
    twin = replace(next(s for s in bundle().squares if s.id == square), id=NASTY)
    others = replace(bundle(2), squares=(twin, *bundle(2).squares))
    return find_substitutes(plan(), bundle(), pattern(), square, bundle_squares(others, NASTY))


@pytest.fixture(scope="module")
def pages(swap):
    first = Side(NASTY, plan(), bundle())
    second = Side("Second", plan(2), bundle(2))
    comparison = compare_plans(
        plan(), bundle(), plan(2), bundle(2), names=(first.name, second.name)
    )
    short = replace(bundle(), squares=bundle().squares[:30], name=NASTY)
    note = shopping_note(short, pattern().sizes[0], CREAM)
    assert note.wishes
    return {
        "swap": swap_page(swap, plan()),
        "compare": compare_page(comparison, (first, second), notes=(NASTY,), wishes=note),
        "shopping": shopping_page(
            note, bundle=short, pattern=pattern().name, size="throw",
            background=Background(NASTY, CREAM.lab),
        ),
    }  # fmt: skip


@pytest.mark.parametrize("name", ["swap", "compare", "shopping"])
def test_a_page_is_whole_and_closed(pages, name):
    page = pages[name]
    tags = read(page)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    outside = [v for _, a in tags for k, v in a.items() if k in ("src", "href") and v]
    assert all(v.startswith(("data:", "#")) for v in outside)
    assert not re.search(r"https?://", page)
    policy = next(a for t, a in tags if a.get("http-equiv") == "Content-Security-Policy")
    assert "default-src 'none'" in policy["content"]


@pytest.mark.parametrize("name", ["swap", "compare"])
def test_every_picture_is_told_in_words(pages, name):
    pictures = [a for tag, a in read(pages[name]) if tag == "img"]
    assert len(pictures) > 3
    assert all(len(a["alt"]) > 8 for a in pictures)


def test_a_substitute_carries_all_its_figures(pages, swap):
    page = pages["swap"]
    for words in ("CIEDE2000", "CMC(2:1)", "grey scale grade", "Looks like it", "Does its job"):
        assert words in page
    for substitute in (*swap.looks, *swap.job):
        for change in substitute.changes:
            assert change.split(":")[0] in page


def test_wishes_have_patches_and_words(pages):
    assert "squares of L* " in pages["shopping"]
    assert pages["shopping"].count("background:#") > 10


def test_pairs_as_files(swap):
    files = swap_pictures(swap, CREAM)
    assert len(files) == len(swap.looks) + len(swap.job)
    for name, content in files.items():
        assert re.fullmatch(r"(looks|job)-\d\.png", name)
        picture = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
        assert picture.shape[1] > 1.8 * picture.shape[0]
