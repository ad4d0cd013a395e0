"""Sheets for choosing: substitutes for a square, two plans side by side, a shopping note."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from jinja2 import Template

from colorcore import __version__
from colorcore.bundle import Bundle
from colorcore.color.bands import BANDS
from colorcore.color.families import HUE_FAMILIES
from colorcore.color.naming import describe_color
from colorcore.comparing import Comparison, StackFigures
from colorcore.contrast import Background
from colorcore.sheets.environment import sheet_environment, style, whole_addresses
from colorcore.sheets.pictures import encode_picture, jpeg_uri, shrink
from colorcore.sheets.side_by_side import RIM, side_by_side
from colorcore.sheets.view import words_for
from colorcore.stacking import Plan
from colorcore.substitutes.model import Candidate, Substitute, Substitutes
from colorcore.substitutes.shopping import ShoppingNote
from colorcore.swatch import Swatch
from colorcore.swatch.prints import PRINTS

_THUMBNAIL: int = 132


@dataclass(frozen=True)
class Side:
    """One of two plans that are set side by side."""

    name: str
    plan: Plan
    bundle: Bundle


def swap_page(found: Substitutes, plan: Plan) -> str:
    """Return the sheet with substitutes for one square of ``plan`` as HTML."""
    return _render(
        "swap.html.j2",
        title=f"Instead of {found.original.id}",
        found=found,
        plan=plan,
        pair=lambda s: jpeg_uri(_pair_picture(found, s, plan.background)),
        pair_size=lambda s: _pair_picture(found, s, plan.background).shape,
    )


def _pair_picture(found: Substitutes, substitute: Substitute, background: Background) -> Any:
    """Return original and substitute side by side at one scale, sRGB-coded (h, w, 3)."""
    return side_by_side((found.original, substitute.candidate.swatch), background)


def swap_pictures(found: Substitutes, background: Background) -> Mapping[str, bytes]:
    """Return PNG files of every pair by name: ``looks-1.png``, ``job-2.png``."""
    return {
        f"{kind}-{n}.png": encode_picture(_pair_picture(found, substitute, background), ".png")
        for kind, group in (("looks", found.looks), ("job", found.job))
        for n, substitute in enumerate(group, 1)
    }


def compare_page(
    comparison: Comparison,
    sides: tuple[Side, Side],
    *,
    notes: Sequence[str] = (),
    wishes: ShoppingNote | None = None,
) -> str:
    """Return the sheet with two plans of one pattern side by side as HTML."""
    swatches = [{s.id: s for s in side.bundle.squares} for side in sides]
    return _render(
        "compare.html.j2",
        title=f"{sides[0].name} beside {sides[1].name}",
        comparison=comparison,
        sides=sides,
        swatches=swatches,
        places=[_places(side.plan) for side in sides],
        notes=notes,
        wishes=wishes,
        counts=_counts,
    )


def shopping_page(
    note: ShoppingNote,
    *,
    bundle: Bundle,
    pattern: str,
    size: str,
    background: Background,
    at_hand: Sequence[Sequence[Candidate]] = (),
) -> str:
    """Return the shopping note as HTML; ``at_hand`` holds, for each wish, what the stash has."""
    return _render(
        "shopping.html.j2",
        title="Shopping note",
        note=note,
        bundle=bundle,
        pattern=pattern,
        size=size,
        background=background,
        at_hand=at_hand or [()] * len(note.wishes),
    )


def _render(template: str, **values: Any) -> str:
    page = _template(template).render(
        style=style("sheet", "choosing"), version=__version__, **values
    )
    return whole_addresses(page)


@cache
def _template(name: str) -> Template:
    environment = sheet_environment()
    environment.filters.update(words=words_for, color_words=describe_color)
    environment.globals["thumbnail"] = _thumbnail
    return environment.get_template(name)


def _thumbnail(swatch: Swatch) -> str:
    side = swatch.picture.shape[0]
    rim = round(side * RIM)
    return jpeg_uri(shrink(swatch.picture[rim : side - rim, rim : side - rim], _THUMBNAIL))


def _places(plan: Plan) -> dict[str, Any]:
    return {p.square: p for stack in plan.stacks for p in stack.placements}


def _counts(stack: StackFigures) -> tuple[tuple[str, str], ...]:
    """What a stack holds in words: value bands, prints and hues that there are."""

    def told(keys: Sequence[str], counts: Mapping[str, int]) -> str:
        return ", ".join(f"{counts[key]} {key}" for key in keys if counts[key])

    return (
        ("values", told(BANDS, stack.bands)),
        ("prints", told(PRINTS, stack.prints)),
        ("hues", told(HUE_FAMILIES, stack.hues)),
    )
