"""A second look for references where patches of sun or shadows lie over the table.

The first look knows nothing of them: what the sun falls on is the lightest, so that paper beside it
passes for a grey card or for nothing, and table in a shadow for a card.
"""

from dataclasses import replace

from colorcore.light.choosing import Chosen, choose_references
from colorcore.light.places import box_round, outlines_of
from colorcore.light.reckoning import Reckoning, Sight


def look_again(sight: Sight, chosen: Chosen, found: Reckoning) -> Chosen | None:
    """Return the references that a second look chooses, knowing the edges of the light by what the
    first one ``found``; None where it would choose the same. None of those ``chosen`` was set by
    hand."""
    local = found.local
    if not any(local.flags(corners) for corners in outlines_of(sight.finding)):
        return None
    if any(reference.kind in ("paper", "chart") for reference in chosen.references):
        lit_alike = tuple(
            reference
            for reference in chosen.references
            if reference.kind == "chart" or not local.flags(box_round(reference.outline))
        )
        if len(lit_alike) in (0, len(chosen.references)):
            return None
        return replace(chosen, references=lit_alike)
    again = choose_references(sight.photo, sight.small, sight.finding, None, (), local=local)
    return again if again.references or chosen.references else None
