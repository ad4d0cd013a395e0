"""Deal a bundle into the stacks of a pattern."""

from colorcore.contrast import Background, Thresholds
from colorcore.stacking.by_hand import lay_by_hand
from colorcore.stacking.dealing import deal, find_size
from colorcore.stacking.locks import Lock, read_locks
from colorcore.stacking.model import Placement, Plan, PlannedStack

__all__ = [
    "Background",
    "Lock",
    "Placement",
    "Plan",
    "PlannedStack",
    "Thresholds",
    "deal",
    "find_size",
    "lay_by_hand",
    "read_locks",
]
