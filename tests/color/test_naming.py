"""Words against Munsell hue families, a public survey of colour names, and CSS names."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colorcore.color.naming import describe_color, describe_print
from colorcore.color.parse import parse_color
from colorcore.color.spaces import adapt_white, lab_from_xyz

MODIFIERS = {"dark", "light", "pale", "greyish", "vivid", "deep"}

SURVEY = {
    "#01153e": "navy",
    "#001146": "navy",
    "#00035b": "navy",
    "#029386": "teal",
    "#014d4e": "dark teal",
    "#6e750e": "olive",
    "#373e02": "dark olive",
    "#a83c09": "rust",
    "#c45508": "rust",
    "#ffffc2": "cream",
    "#653700": "brown",
    "#341c02": "dark brown",
    "#ff81c0": "pink",
    "#d58a94": "pink",
    "#ffd1df": "pink",
    "#ff028d": "pink",
    "#ae7181": "pink",
    "#c0737a": "pink",
    "#ca6641": "terracotta",
    "#d1b26f": "tan",
    "#af884a": "tan",
    "#650021": "maroon",
    "#840000": "maroon",
    "#ceb301": "mustard",
    "#dbb40c": "gold",
    "#c79fef": "lavender",
    "#580f41": "plum",
    "#ffb07c": "peach",
    "#fc5a50": "coral",
    "#9ffeb0": "mint",
    "#aaa662": "khaki",
    "#343837": "charcoal",
    "#929591": "grey",
    "#d8dcd6": "light grey",
    "#75bbfd": "light blue",
    "#0343df": "vivid blue",
    "#3b638c": "blue",
    "#6b8ba4": "greyish blue",
    "#e50000": "vivid red",
    "#15b01a": "vivid green",
    "#033500": "dark green",
    "#ffff14": "vivid yellow",
    "#ffff84": "light yellow",
    "#f97306": "vivid orange",
    "#7e1e9c": "purple",
    "#000000": "black",
    "#ffffff": "white",
    "#c0fb2d": "yellow-green",
    "#13eac9": "aqua",
    "#06c2ac": "aqua",
}
"""Median answers of a public survey with over 200,000 people (R. Munroe, 'Color survey results',
2010, CC0) and the word that our name must hold. Survey names we do not use are set against ours:
'mauve' and 'dusty rose' are greyish pinks, 'denim' is blue and 'turquoise' aqua."""


@pytest.mark.parametrize("code", SURVEY)
def test_names_agree_with_the_survey(code: str) -> None:
    name = describe_color(parse_color(code))
    assert set(SURVEY[code].split()) <= set(name.split()), name


CSS = """
    navy teal olive tan maroon coral lavender orange yellow purple pink red blue green black white
    grey salmon:coral beige:cream wheat:cream gold:yellow crimson:red saddlebrown:brown
    sienna:rust peachpuff:peach:cream goldenrod:gold indigo:purple midnightblue:navy
    chocolate:rust:orange aqua turquoise:aqua magenta steelblue:blue slategray:blue rosybrown:pink
    thistle:lavender darkgreen:green hotpink:pink
"""


@pytest.mark.parametrize("css", CSS.split())
def test_names_agree_with_css(css: str) -> None:
    """The CSS list, where it says what a person would say of cloth."""
    name, *said = css.split(":")
    assert set(describe_color(parse_color(name)).split()) & set(said or [name])


REDS = {"terracotta", "red", "pink", "coral", "maroon", "purplish red", "rust", "reddish brown"}
EARTHS = {
    "brown",
    "rust",
    "terracotta",
    "tan",
    "peach",
    "mustard",
    "gold",
    "khaki",
    "beige",
    "cream",
    "coral",
}
GREENS = {"green", "mint", "sage"}
BLUES = {"blue", "navy"}
PURPLES = {"purple", "plum", "lavender", "magenta"}
FAMILIES = {
    "R": REDS | {"brown", "peach"},
    "YR": EARTHS | {"orange", "pink", "reddish brown"},
    "Y": EARTHS | {"yellow", "olive"},
    "GY": GREENS | {"yellow-green", "olive", "khaki", "yellow"},
    "G": GREENS | {"teal", "aqua"},
    "BG": GREENS | {"teal", "aqua"},
    "B": BLUES | {"teal", "aqua"},
    "PB": BLUES | {"purple", "lavender"},
    "P": PURPLES | {"pink"},
    "RP": PURPLES | {"pink", "purplish red", "maroon"},
}


def test_names_stay_within_munsell_hue_families() -> None:
    """Munsell renotation data of real colours (Newhall, Nickerson and Judd 1943, as colour-science
    carries them), chroma 4 and up, value 2 to 8: the name must suit the hue family."""
    import colour

    checked = 0
    for (hue, value, chroma), xyy in colour.MUNSELL_COLOURS["Munsell Colours Real"]:
        if chroma < 4 or not 2 <= value <= 8:
            continue
        xyz = colour.xyY_to_XYZ([xyy[0], xyy[1], xyy[2] / 100])
        lab = lab_from_xyz(adapt_white(xyz, "C", "D65"))
        words = describe_color(lab).split()
        name = " ".join(word for word in words if word not in MODIFIERS)
        if name.endswith(("grey", "black", "charcoal")):
            continue
        assert name in FAMILIES[hue.lstrip("0123456789.")], (hue, value, chroma, lab, words)
        checked += 1
    assert checked > 1500


def test_munsell_neutrals_are_greys() -> None:
    """L* of Munsell value 1 to 9.5, ASTM D1535: black, greys and white in order."""
    names = [describe_color([value, 0, 0]) for value in (10, 20.5, 41.2, 51.6, 61.7, 81.4, 96)]
    assert names == ["black", "charcoal", "dark grey", "grey", "grey", "light grey", "white"]


@pytest.mark.parametrize(
    ("lab", "words"),
    [
        ((28, -2, -14), "dark greyish blue"),
        ((20, 2, -20), "navy"),
        ((92, -4, 22), "cream"),
        ((93, -2, 38), "pale yellow"),
        ((42, 58, 34), "vivid red"),
        ((90, 0, 2), "off-white"),
        ((16, 1, 0), "black"),
        ((55, -1, -6), "bluish grey"),
        ((62, -12, 14), "sage"),
        ((30, 18, 24), "brown"),
        ((22, -16, 10), "dark greyish green"),
        ((24, 45, 30), "maroon"),
    ],
)
def test_words(lab: tuple, words: str) -> None:
    """Our own partition, as documented."""
    assert describe_color(lab) == words


@given(st.tuples(st.floats(-5, 120), st.floats(-150, 150), st.floats(-150, 150)))
def test_every_colour_has_a_name(lab: tuple) -> None:
    assert describe_color(lab)


@pytest.mark.parametrize("bad", [(1, 2), (np.nan, 0, 0), (50, np.inf, 0)])
def test_no_colour_no_name(bad: tuple) -> None:
    with pytest.raises(ValueError, match="three finite numbers"):
        describe_color(bad)


def test_prints_in_words() -> None:
    blue, cream = (28, -2, -14), (92, -4, 22)
    assert describe_print(blue, reads_as_solid=True) == "dark greyish blue, solid"
    assert describe_print(blue, reads_as_solid=True, value_spread=9).endswith("reads as solid")
    assert (
        describe_print(
            blue,
            reads_as_solid=False,
            print_scale_inches=0.4,
            value_spread=40,
            palette=[(cream, 0.3), (blue, 0.7)],
        )
        == "dark greyish blue with cream, small print"
    )
    assert (
        describe_print(cream, reads_as_solid=False, print_scale_inches=2.0, value_spread=6)
        == "cream, medium tone-on-tone print"
    )
    assert (
        describe_print(
            cream, reads_as_solid=False, print_scale_inches=4, stripe_degrees=90, value_spread=30
        )
        == "cream, large stripe"
    )
    faint = describe_print(
        blue, reads_as_solid=False, value_spread=30, palette=[(blue, 0.9), (cream, 0.1)]
    )
    assert faint == "dark greyish blue, print"


def test_scattered_marks_on_a_ground_are_no_tone_on_tone() -> None:
    navy, cream = (20, 5, -25), (92, -4, 22)
    common = {"reads_as_solid": False, "print_scale_inches": 0.8, "value_spread": 3.0}
    assert describe_print(cream, palette=[(cream, 1.0)], **common) == (
        "cream, small low-volume print"
    )
    assert describe_print(navy, palette=[(navy, 0.95), (cream, 0.05)], **common).endswith(
        "small sparse print"
    )
    two = [(navy, 0.6), ((23, 6, -27), 0.4)]
    assert describe_print(navy, palette=two, **common).endswith("small tone-on-tone print")


def test_hues_far_apart_are_no_tones_of_one() -> None:
    grey, orange, faint = (55, 2, 6), (57, 22, 38), (62, 2, 5)
    common = {"reads_as_solid": False, "print_scale_inches": 4.0, "value_spread": 8.0}
    two_hues = [(grey, 0.45), (faint, 0.43), (orange, 0.12)]
    assert describe_print(grey, palette=two_hues, **common) == "brownish grey, large print"
    one_hue = [(grey, 0.45), (faint, 0.43), ((50, 3, 6), 0.12)]
    assert (
        describe_print(grey, palette=one_hue, **common) == "brownish grey, large tone-on-tone print"
    )
