"""``plan.csv``: a line a square, for a spreadsheet."""

import csv
import io

from colorcore.flags import describe
from colorcore.plain import cell
from colorcore.sheets.view import PlanView

COLUMNS = (
    "stack",
    "role",
    "place",
    "square",
    "value_band",
    "lightness",
    "lightness_sd",
    "a",
    "b",
    "color",
    "contrast",
    "delta_l",
    "delta_e_2000",
    "luminance_ratio",
    "chance",
    "locked",
    "fabric",
    "why",
    "look_again",
)


def plan_csv(view: PlanView) -> str:
    """Return the plan as CSV (RFC 4180: commas, CRLF), UTF-8, headings in the first line.

    ``place`` counts from the darkest of a stack; squares that no stack needs have the stack
    ``left over`` or ``stayed out``. Text that a spreadsheet would run as a formula is disarmed.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for group in view.groups:
        for place, card in enumerate(group.cards, 1):
            known = card.verdict != "" and group.beside_background
            writer.writerow(
                (
                    cell(group.name),
                    cell(group.role),
                    place,
                    cell(card.address),
                    card.band,
                    f"{card.lightness:.2f}",
                    f"{card.lightness_sd:.2f}",
                    f"{card.lab[1]:.2f}",
                    f"{card.lab[2]:.2f}",
                    cell(card.color),
                    card.verdict if known else "",
                    f"{card.delta_l:.2f}" if known else "",
                    f"{card.delta_e:.2f}" if known else "",
                    f"{card.ratio:.2f}" if known else "",
                    "" if card.chance is None else f"{card.chance:.3f}",
                    "yes" if card.locked else "no",
                    card.fabric,
                    cell(card.why),
                    cell("; ".join(describe(flag) for flag in card.flags)),
                )
            )
    return out.getvalue()
