"""References, uneven light, tone curve and camera colour: from linear light to true colour."""

from colorcore.light.calibration import Calibration
from colorcore.light.model import Reference
from colorcore.light.undo import undo_light

__all__ = ["Calibration", "Reference", "undo_light"]
