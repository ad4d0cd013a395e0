"""Write a colour as CSS does: the way back from ``parse``."""

import numpy as np

from colorcore.color.spaces import coded8_from_linear, linear_from_lab


def css_color(lab: tuple[float, float, float]) -> str:
    """Return the nearest sRGB colour of a CIELAB (D65) colour as ``#rrggbb``."""
    red, green, blue = coded8_from_linear(linear_from_lab(np.asarray(lab)))
    return f"#{red:02x}{green:02x}{blue:02x}"
