"""Which plain colours cloth comes in: a colour of a screen may be lighter or darker than any."""

from dataclasses import replace
from typing import Final

from colorcore.color.css import css_color
from colorcore.color.naming import describe_color
from colorcore.color.parse import parse_color
from colorcore.contrast.background import Background

DARKEST_CLOTH: Final = 12.0
"""L* of black velvet-like cotton (common practice, no source)."""
LIGHTEST_CLOTH: Final = 97.0
"""L* of bleached white cotton (common practice, no source)."""


def is_beyond_cloth(background: Background) -> bool:
    """Whether a background is a colour, not measured cloth, and no cloth is as light or dark."""
    measured = background.picture is not None or any(background.lab_sd)
    return not measured and not DARKEST_CLOTH <= round(background.lab[0]) <= LIGHTEST_CLOTH


def as_cloth_comes(background: Background) -> tuple[Background, str]:
    """Return what to compare a background as, and a sentence where that is not the background
    itself: a colour that no cloth comes in gives way to the nearest that cloth does, whose label
    is its colour as CSS writes it."""
    if not is_beyond_cloth(background):
        return background, ""
    lightness = background.lab[0]
    at_limit = min(max(lightness, DARKEST_CLOTH), LIGHTEST_CLOTH)
    label = css_color((at_limit, *background.lab[1:]))
    nearest = replace(background, label=label, lab=parse_color(label))
    return nearest, (
        f"No cloth is as {'light' if lightness > LIGHTEST_CLOTH else 'dark'} as "
        f"{background.label} (L* {lightness:.0f}): {label} ({describe_color(nearest.lab)}, L* "
        f"{nearest.lab[0]:.0f}), the nearest that cloth comes, is compared in its place."
    )
