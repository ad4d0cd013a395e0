"""A second look for references where patches of sun or shadows lie over the table.

The first look knows nothing of them: what the sun falls on is the lightest, so that paper beside it
passes for a grey card or for nothing, and table in a shadow for a card.
"""

from dataclasses import replace

import numpy as np

from colorcore.light.choosing import Chosen, brightest_square, choose_references
from colorcore.light.half_lit import half_lit_sheets
from colorcore.light.model import Reference
from colorcore.light.places import box_round, outlines_of
from colorcore.light.reckoning import Reckoning, Sight


def look_again(sight: Sight, chosen: Chosen, found: Reckoning) -> Chosen | None:
    """Return the references that a second look chooses, knowing the edges of the light by what the
    first one ``found``; None where it would choose the same. None of those ``chosen`` was set by
    hand."""
    local = found.local
    if local.is_even:
        return None
    outlines = outlines_of(sight.finding)
    apart = np.array([bool(local.flags(corners)) for corners in outlines], np.bool_)
    if not apart.any() or chosen.charts:
        return None
    brightest = brightest_square(sight.small, outlines[~apart])
    halves = half_lit_sheets(sight.small, sight.finding, local, brightest)
    if halves:
        papers = tuple(Reference(kind="paper", outline=s.outline, found=True) for s in halves)
        return Chosen(papers, (), (), np.zeros((3, 3)), False, ())
    alike = [r for r in chosen.references if not local.flags(box_round(r.outline))]
    if any(reference.kind == "paper" for reference in alike):
        changed = len(alike) < len(chosen.references)
        return replace(chosen, references=tuple(alike)) if changed else None
    if any(reference.kind == "paper" for reference in chosen.references):
        return None
    again = choose_references(sight.photo, sight.small, sight.finding, None, (), local=local)
    return again if again.references or chosen.references else None
