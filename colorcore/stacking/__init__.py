"""Deal a bundle into the stacks of a pattern."""

from colorcore.contrast import Background, Thresholds
from colorcore.stacking.model import Placement, Plan, PlannedStack

__all__ = ["Background", "Placement", "Plan", "PlannedStack", "Thresholds"]
