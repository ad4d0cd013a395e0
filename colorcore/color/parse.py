"""Read a colour as CSS writes it.

Source: W3C, CSS Color Module Level 4: hexadecimal and named colours, rgb(), hsl(), hwb(), lab(),
lch(), oklab(), oklch() and color() with srgb, srgb-linear, display-p3, xyz, xyz-d50 and xyz-d65.
Everything ends in CIELAB D65; lab(), lch() and xyz-d50 are D50 in CSS and are adapted (Bradford).
Where CSS clamps (rgb, the lightness of lab and oklab, negative chroma) so does this.

Cloth is opaque: an alpha other than 1 is refused. Names come from Pillow's copy of the CSS list.
"""

import colorsys
import difflib
import math
import re
from collections.abc import Callable
from typing import Final

import numpy as np

from colorcore.color.oklab import xyz_from_oklab
from colorcore.color.spaces import (
    XYZ_FROM_LINEAR,
    FloatArray,
    adapt_white,
    lab_from_xyz,
    linear_from_coded,
    rgb_to_xyz_matrix,
    xyz_from_lab,
)
from colorcore.errors import ColorError

Lab = tuple[float, float, float]

ACCEPTED: Final = (
    "a CSS colour such as '#f4efe6', 'navy', 'rgb(32 48 74)', 'hsl(220 40% 20%)', 'lab(95 0 2)', "
    "'lch(52 72 56)' or 'oklch(60% 0.15 50)'"
)
"""What a colour may look like, for messages."""

_CLOTH_WORDS: Final = {
    "cream": "antiquewhite", "offwhite": "oldlace", "natural": "linen", "ecru": "beige",
    "navyblue": "navy", "charcoal": "darkslategray", "burgundy": "maroon", "rust": "sienna",
    "mustard": "goldenrod", "sage": "darkseagreen", "blush": "mistyrose", "denim": "steelblue",
}  # fmt: skip
"""What cloth is called and CSS knows under another name; near enough to begin with."""

_NUMBER: Final = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?"
_COMPONENT: Final = re.compile(rf"(none)|({_NUMBER})(%|deg|grad|rad|turn)?")
_FUNCTION: Final = re.compile(r"([a-z]+)\(\s*(.*?)\s*\)", re.DOTALL)
_LARGEST: Final = 1e6
_DEGREES: Final = {None: 1.0, "deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}

_P3: Final = rgb_to_xyz_matrix(((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)), "D65")


def parse_color(text: str) -> Lab:
    """Return CIELAB D65 (L*, a*, b*) of a colour as CSS writes it.

    Raises
    ------
    ColorError
        If the text is no colour, or one that lets light through.
    """
    plain = text.strip().lower()
    if plain.startswith("#"):
        rgb = _hexadecimal(plain, text)
    elif "(" in plain or ")" in plain:
        return _function(plain, text)
    else:
        rgb = _named(plain, text)
    return _lab(XYZ_FROM_LINEAR @ linear_from_coded(rgb))


def _lab(xyz: FloatArray) -> Lab:
    lightness, a, b = (float(v) for v in lab_from_xyz(xyz))
    return lightness, a, b


def _refusal(text: str, reason: str) -> ColorError:
    shown = text if len(text) <= 60 else text[:57] + "..."
    return ColorError(f"the colour {shown!r} {reason}; give {ACCEPTED}")


def _see_through(text: str) -> ColorError:
    return _refusal(text, "lets light through, which cloth does not: leave out its alpha")


def _hexadecimal(plain: str, text: str) -> FloatArray:
    digits = plain[1:]
    if not re.fullmatch(r"[0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8}", digits):
        raise _refusal(text, "is not # and 3 or 6 hexadecimal digits")
    if len(digits) in (3, 4):
        digits = "".join(d + d for d in digits)
    if digits[6:] not in ("", "ff"):
        raise _see_through(text)
    return np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)]) / 255


def _named(plain: str, text: str) -> FloatArray:
    from PIL import ImageColor

    names = ImageColor.colormap
    if plain == "transparent":
        raise _see_through(text)
    if plain not in names:
        joined = re.sub(r"[\s-]+", "", plain)
        near = [_CLOTH_WORDS[joined]] if joined in _CLOTH_WORDS else []
        near = near or difflib.get_close_matches(joined, names, n=1, cutoff=0.75)
        guess = f" (did you mean '{near[0]}'?)" if near else ""
        reason = f"is not a CSS colour name{guess}" if plain else "is empty"
        raise _refusal(text, reason)
    red, green, blue = ImageColor.getrgb(plain)[:3]
    return np.array([red, green, blue]) / 255


Component = tuple[float, str | None]
"""A value and its unit: '%', an angle's, or None for a plain number."""


def _components(body: str, text: str, commas: bool) -> list[Component]:
    """Split the inside of a function into its components, alpha checked and dropped."""
    body, slash, alpha = body.partition("/")
    if commas and "," in body and not slash:
        parts = [part.strip() for part in body.split(",")]
        if len(parts) == 4:
            alpha = parts.pop()
    else:
        parts = body.split()
    if slash and not alpha.strip():
        raise _refusal(text, "ends in a slash without an alpha")
    if alpha.strip():
        value, unit = _component(alpha.strip(), text)
        if unit not in (None, "%"):
            raise _refusal(text, f"has the alpha '{alpha.strip()}', which is not a number")
        if value / (100 if unit else 1) < 1:
            raise _see_through(text)
    return [_component(part, text) for part in parts]


def _component(part: str, text: str) -> Component:
    match = _COMPONENT.fullmatch(part)
    if not match:
        raise _refusal(text, f"has '{part}' where a number was expected")
    if match[1]:
        return 0.0, None
    value = float(match[2])
    if abs(value) > _LARGEST:
        raise _refusal(text, f"has '{part}', which is too large")
    return value, match[3]


def _scaled(component: Component, per_hundred: float, text: str, number: float = 1.0) -> float:
    """A number times ``number``, or a percentage of ``per_hundred``."""
    value, unit = component
    if unit == "%":
        return value / 100 * per_hundred
    if unit:
        raise _refusal(text, f"has an angle in '{unit}' where a number or % was expected")
    return value * number


def _angle(component: Component, text: str) -> float:
    """Degrees, 0 to 360."""
    value, unit = component
    if unit == "%":
        raise _refusal(text, "has a % where an angle was expected")
    return value * _DEGREES[unit] % 360


def _unit(value: float) -> float:
    return min(max(value, 0.0), 1.0)


def _function(plain: str, text: str) -> Lab:
    match = _FUNCTION.fullmatch(plain)
    if not match:
        raise _refusal(text, "has unbalanced or misplaced brackets")
    name, body = match[1].removesuffix("a") if match[1] in ("rgba", "hsla") else match[1], match[2]
    space = None
    if name == "color":
        space, _, body = body.partition(" ")
        if space not in _SPACES:
            known = ", ".join(_SPACES)
            raise _refusal(text, f"names the space '{space}', which is not one of {known}")
    elif name not in _FUNCTIONS:
        raise _refusal(text, f"uses '{name}(...)', which is not a colour function known here")
    parts = _components(body, text, commas=name in ("rgb", "hsl"))
    if len(parts) != 3:
        raise _refusal(text, f"has {len(parts)} components instead of 3")
    if space:
        values = np.array([_scaled(part, 1.0, text) for part in parts])
        return _lab(_SPACES[space](values))
    return _lab(_FUNCTIONS[name](parts, text))


def _rgb(parts: list[Component], text: str) -> FloatArray:
    coded = np.array([_unit(_scaled(part, 1.0, text, 1 / 255)) for part in parts])
    return np.asarray(XYZ_FROM_LINEAR @ linear_from_coded(coded))


def _hsl(parts: list[Component], text: str) -> FloatArray:
    hue = _angle(parts[0], text) / 360
    saturation = _unit(_scaled(parts[1], 1.0, text, 0.01))
    lightness = _unit(_scaled(parts[2], 1.0, text, 0.01))
    coded = np.array(colorsys.hls_to_rgb(hue, lightness, saturation))
    return np.asarray(XYZ_FROM_LINEAR @ linear_from_coded(coded))


def _hwb(parts: list[Component], text: str) -> FloatArray:
    hue = _angle(parts[0], text) / 360
    white = _unit(_scaled(parts[1], 1.0, text, 0.01))
    black = _unit(_scaled(parts[2], 1.0, text, 0.01))
    share = max(white + black, 1.0)
    white, black = white / share, black / share
    coded = np.array(colorsys.hsv_to_rgb(hue, 1.0, 1.0)) * (1 - white - black) + white
    return np.asarray(XYZ_FROM_LINEAR @ linear_from_coded(coded))


def _from_d50(lightness: float, a: float, b: float) -> FloatArray:
    xyz = xyz_from_lab([min(max(lightness, 0.0), 100.0), a, b], "D50")
    return adapt_white(xyz, "D50", "D65")


def _lab_d50(parts: list[Component], text: str) -> FloatArray:
    a, b = (_scaled(part, 125.0, text) for part in parts[1:])
    return _from_d50(_scaled(parts[0], 100.0, text), a, b)


def _polar(chroma: float, degrees: float) -> tuple[float, float]:
    hue = math.radians(degrees)
    return max(chroma, 0.0) * math.cos(hue), max(chroma, 0.0) * math.sin(hue)


def _lch_d50(parts: list[Component], text: str) -> FloatArray:
    a, b = _polar(_scaled(parts[1], 150.0, text), _angle(parts[2], text))
    return _from_d50(_scaled(parts[0], 100.0, text), a, b)


def _from_oklab(lightness: float, a: float, b: float) -> FloatArray:
    return xyz_from_oklab([_unit(lightness), a, b])


def _oklab(parts: list[Component], text: str) -> FloatArray:
    a, b = (_scaled(part, 0.4, text) for part in parts[1:])
    return _from_oklab(_scaled(parts[0], 1.0, text), a, b)


def _oklch(parts: list[Component], text: str) -> FloatArray:
    a, b = _polar(_scaled(parts[1], 0.4, text), _angle(parts[2], text))
    return _from_oklab(_scaled(parts[0], 1.0, text), a, b)


_FUNCTIONS: Final[dict[str, Callable[[list[Component], str], FloatArray]]] = {
    "rgb": _rgb,
    "hsl": _hsl,
    "hwb": _hwb,
    "lab": _lab_d50,
    "lch": _lch_d50,
    "oklab": _oklab,
    "oklch": _oklch,
}

_SPACES: Final[dict[str, Callable[[FloatArray], FloatArray]]] = {
    "srgb": lambda v: np.asarray(XYZ_FROM_LINEAR @ linear_from_coded(v)),
    "srgb-linear": lambda v: np.asarray(XYZ_FROM_LINEAR @ v),
    "display-p3": lambda v: np.asarray(_P3 @ linear_from_coded(v)),
    "xyz": lambda v: v,
    "xyz-d65": lambda v: v,
    "xyz-d50": lambda v: adapt_white(v, "D50", "D65"),
}
