"""Pictures of units and of the quilt, from the photographed fabrics at true scale."""

from colorcore.preview.cloth import Cloth, cloth_from_color, cloth_from_swatch
from colorcore.preview.drawing import quilt_svg
from colorcore.preview.picture import View, as_seen, paint, paint_views, side_by_side
from colorcore.preview.sewn import Sewn, SewnFacet, sew

__all__ = [
    "Cloth",
    "Sewn",
    "SewnFacet",
    "View",
    "as_seen",
    "cloth_from_color",
    "cloth_from_swatch",
    "paint",
    "paint_views",
    "quilt_svg",
    "sew",
    "side_by_side",
]
