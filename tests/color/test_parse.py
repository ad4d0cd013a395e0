"""Colours as CSS Color Module Level 4 writes them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from colorcore.color.difference import ciede2000
from colorcore.color.parse import _CLOTH_WORDS, parse_color
from colorcore.color.spaces import coded_from_linear, lab_from_linear, linear_from_lab
from colorcore.errors import ColorError

GREEN = (46.2276, -51.6985, 49.8970)
"""#008000 in CIELAB D65, computed from IEC 61966-2-1 by colour-science."""


@pytest.mark.parametrize(
    "text",
    [
        "green",
        "GREEN",
        " #008000 ",
        "#008000ff",
        "rgb(0, 128, 0)",
        "rgba(0, 128, 0, 1)",
        "rgb(0 128 0 / 100%)",
        "rgb(0% 50.196% 0%)",
        "hsl(120deg 100% 25.098%)",
        "hsl(120, 100%, 25.098%)",
        "hsl(0.33333333turn 100 25.098)",
        "hwb(120 0% 49.804%)",
        "lab(46.277% -47.562 48.583)",
        "lab(46.277 -38.0496% 38.8664%)",
        "lch(46.277% 67.989 134.391)",
        "lch(46.277 67.989 149.323grad)",
        "oklab(51.975% -0.1403 0.10768)",
        "oklch(51.975% 0.17686 142.495)",
        "oklch(0.51975 44.215% 2.48701rad)",
        "color(srgb 0 0.50196 0)",
        "color(srgb-linear 0 .21586 none)",
        "color(display-p3 0.21604 0.49418 0.13151)",
        "color(xyz 0.07719 0.15438 0.02573)",
        "color(xyz-d50 0.08312 0.15475 0.02095)",
    ],
)
def test_every_way_to_say_green(text: str) -> None:
    """The web platform's tests of CSS Color 4 take these for the same green, #008000."""
    assert ciede2000(parse_color(text), GREEN) < 0.02


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("lab(44.36% 36.05 -58.99)", "#7654cd"),
        ("lch(44.36% 69.13 301.43)", "#7654cd"),
        ("lab(29.2345% 39.3825 20.0664)", "oklab(40.101% 0.1147 0.0453)"),
        ("lab(52.2345% 40.1645 59.9971)", "oklch(59.686% 0.15619 49.7694)"),
        ("lch(52.2345% 72.2 56.2)", "oklab(59.686% 0.1009 0.1192)"),
    ],
)
def test_worked_examples_of_css_color_4(text: str, same: str) -> None:
    """Pairs that the examples of CSS Color Module Level 4 give for the same colour."""
    assert ciede2000(parse_color(text), parse_color(same)) < 0.1


def test_greys_keep_no_tint() -> None:
    for text in ("#808080", "hsl(30 0% 50%)", "lab(54 0 0)", "oklab(60% 0 0)", "lch(95 0 90)"):
        _, a, b = parse_color(text)
        assert np.hypot(a, b) < 0.001, text
    assert_allclose(parse_color("white"), (100, 0, 0), atol=1e-9)
    assert_allclose(parse_color("#0f8"), parse_color("#00ff88"))
    assert_allclose(parse_color("hwb(200 80% 80%)"), parse_color("#808080"), atol=0.3)


def test_clamps_as_css_does() -> None:
    assert parse_color("rgb(300 -20 0)") == parse_color("red")
    assert parse_color("lab(140 0 0)")[0] == pytest.approx(100)
    assert parse_color("lch(50 -30 20)") == pytest.approx(parse_color("lab(50 0 0)"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("nvay", "did you mean 'navy'"),
        ("B3", "not a CSS colour name"),
        ("cream", "did you mean 'antiquewhite'"),
        ("Off-white", "did you mean 'oldlace'"),
        ("light blue", "did you mean 'lightblue'"),
        ("navy blue", "did you mean 'navy'"),
        ("#12", "hexadecimal"),
        ("#12345", "hexadecimal"),
        ("#gggggg", "hexadecimal"),
        ("#11223344", "lets light through"),
        ("transparent", "lets light through"),
        ("rgb(1 2 3 / 50%)", "lets light through"),
        ("rgba(1, 2, 3, .4)", "lets light through"),
        ("rgb(1 2)", "2 components instead of 3"),
        ("rgb(1 2 x)", "'x' where a number"),
        ("rgb(1 2 3 /)", "slash"),
        ("rgb(1deg 2 3)", "angle in 'deg'"),
        ("hsl(10% 20% 30%)", "% where an angle"),
        ("lab(1, 2, 3)", "'1,' where a number"),
        ("lab(1e999 0 0)", "too large"),
        ("oklab(0.5 1e200 0)", "too large"),
        ("color(rec2020 1 1 1)", "'rec2020', which is not one of"),
        ("cmyk(1 2 3)", "'cmyk(...)'"),
        ("rgb(1 2 3", "brackets"),
        ("rgb(calc(1) 2 3)", "where a number"),
    ],
)
def test_refusals_name_the_text_and_what_is_accepted(text: str, says: str) -> None:
    with pytest.raises(ColorError) as caught:
        parse_color(text)
    sentence = str(caught.value)
    assert says in sentence
    assert repr(text) in sentence
    assert "'#f4efe6'" in sentence


@given(st.text(max_size=40))
def test_any_text_gives_a_colour_or_a_sentence(text: str) -> None:
    try:
        lab = parse_color(text)
    except ColorError:
        return
    assert np.isfinite(lab).all()


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_hex_round_trip(codes: tuple[int, int, int]) -> None:
    lab = parse_color("#" + "".join(f"{c:02x}" for c in codes))
    back = np.rint(255 * coded_from_linear(linear_from_lab(lab)))
    assert_allclose(back, codes)
    assert_allclose(lab, lab_from_linear(linear_from_lab(lab)), atol=1e-9)


def test_against_colour_science() -> None:
    """colour-science keeps OKLab's first matrices, rounded to ten digits; hence its tolerance."""
    import colour

    lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ([118 / 255, 84 / 255, 205 / 255]))
    assert_allclose(parse_color("#7654cd"), lab, atol=0.02)
    xyz = colour.Oklab_to_XYZ([0.6, 0.1, 0.12])
    assert_allclose(parse_color("oklab(0.6 0.1 0.12)"), colour.XYZ_to_Lab(xyz), atol=0.1)
    p3 = colour.RGB_to_XYZ([0.9, 0.2, 0.1], "Display P3", apply_cctf_decoding=True)
    assert_allclose(parse_color("color(display-p3 .9 .2 .1)"), colour.XYZ_to_Lab(p3), atol=0.02)


def test_every_word_of_cloth_leads_to_a_name_that_is_read() -> None:
    for name in _CLOTH_WORDS.values():
        parse_color(name)
    for word in _CLOTH_WORDS:
        with pytest.raises(ColorError, match="did you mean"):
            parse_color(word)
