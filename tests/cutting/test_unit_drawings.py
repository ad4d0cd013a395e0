"""Drawings of units: what they say can be seen."""

import re

import numpy as np
import pytest

from colorcore.sheets.cutting_content import sheet_content
from tests.cutting.test_sheet import make_making

LETTER = re.compile(r'<text x="([-\d.]+)" y="([-\d.]+)" font-size="([-\d.]+)"[^>]*>([a-z])</text>')
ARROW = re.compile(r'<path d="([^"]*)" fill="#fff"')


@pytest.mark.parametrize("name", ["gatepost-stars", "hedgerow-geese", "lamplight-rails"])
def test_no_arrow_covers_the_letter_of_a_fabric(name: str) -> None:
    recipes = sheet_content(make_making(name)).recipes
    letters = 0
    for recipe in recipes:
        svg = recipe.drawing.svg
        arrows = [
            np.array([float(n) for n in re.findall(r"[-\d.]+", path)]).reshape(-1, 2)
            for path in ARROW.findall(svg)
        ]
        for x, y, size, _ in LETTER.findall(svg):
            letters += 1
            font = float(size)
            # A letter's base line lies a third of its size below its middle.
            middle = np.array([float(x), float(y) - 0.33 * font])
            for arrow in arrows:
                low, high = arrow.min(axis=0), arrow.max(axis=0)
                covered = (middle > low - 0.25 * font) & (middle < high + 0.25 * font)
                assert not covered.all(), recipe.name
    assert letters >= 3
