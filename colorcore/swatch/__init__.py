"""What one square measures: colour, palette, print and the values of its pieces."""

from colorcore.swatch.measuring import measure_square, measure_squares, read_ahead
from colorcore.swatch.model import PaletteColor, Swatch

__all__ = ["PaletteColor", "Swatch", "measure_square", "measure_squares", "read_ahead"]
