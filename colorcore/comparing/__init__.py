"""Plans in figures, and two plans of one pattern side by side."""

from colorcore.comparing.comparison import Comparison, RoleRow, compare_plans
from colorcore.comparing.figures import (
    Evenness,
    PlanFigures,
    StackFigures,
    plan_figures,
)

__all__ = [
    "Comparison",
    "Evenness",
    "PlanFigures",
    "RoleRow",
    "StackFigures",
    "compare_plans",
    "plan_figures",
]
