"""Every difference between two colours, each from its own file.

=====================  ============================================  =========  ==============
function               meaning                                       symmetric  range
=====================  ============================================  =========  ==============
``ciede2000``          perceived difference, ISO/CIE 11664-6          yes        0 up
``cmc``                perceived difference in textiles, ISO 105-J03  no         0 up
``delta_e_76``         straight distance in CIELAB                   yes        0 up
``luminance_ratio``    contrast of light and dark, WCAG 2.2          yes        1 to 21
=====================  ============================================  =========  ==============

All take CIELAB D65 arrays (..., 3) that broadcast and return (...). All are defined for flat
samples without texture; for a print they compare what it reads as.
"""

from colorcore.color.delta_e_76 import delta_e_76
from colorcore.color.delta_e_2000 import ciede2000
from colorcore.color.delta_e_cmc import cmc
from colorcore.color.luminance import luminance_ratio, relative_luminance

__all__ = ["ciede2000", "cmc", "delta_e_76", "luminance_ratio", "relative_luminance"]
