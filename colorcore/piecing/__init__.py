"""Which prints meet, what to mark them with, and which way to press."""

from colorcore.piecing.marking import MarkingAdvice, advise_marking
from colorcore.piecing.pairing import Pairing, Supply, pair
from colorcore.piecing.pressing import RowPressing, SeamPressing, UnitPressing, plan_pressing

__all__ = [
    "MarkingAdvice",
    "Pairing",
    "RowPressing",
    "SeamPressing",
    "Supply",
    "UnitPressing",
    "advise_marking",
    "pair",
    "plan_pressing",
]
