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
    nearest = _nearest_cloth(background)
    return nearest, (
        f"{_no_cloth(background)}: {_called(nearest)}, the nearest that cloth comes, is compared "
        "in its place."
    )


def say_beyond_cloth(background: Background) -> str:
    """Return what to know of a plan for a background that no cloth is as light or dark as: beside
    real cloth less stands off; "" for any other."""
    if not is_beyond_cloth(background):
        return ""
    return (
        f"{_no_cloth(background)}, so on yours some squares may stand off less: deal again with "
        f"{_called(_nearest_cloth(background))}, the nearest that cloth comes, or with a photo of "
        "the cloth."
    )


def _nearest_cloth(background: Background) -> Background:
    at_limit = min(max(background.lab[0], DARKEST_CLOTH), LIGHTEST_CLOTH)
    label = css_color((at_limit, *background.lab[1:]))
    return replace(background, label=label, lab=parse_color(label))


def _no_cloth(background: Background) -> str:
    lightness = background.lab[0]
    as_what = "light" if lightness > LIGHTEST_CLOTH else "dark"
    return f"No cloth is as {as_what} as {background.label} (L* {lightness:.0f})"


def _called(nearest: Background) -> str:
    return f"{nearest.label} ({describe_color(nearest.lab)}, L* {nearest.lab[0]:.0f})"
