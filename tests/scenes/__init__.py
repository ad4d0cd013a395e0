"""Photographs of precut squares, computed from spectra, with everything true of them known.

``make_scene(kind, seed)`` returns a picture and its truth; ``save_scene`` writes both. A print is
a map of inks, each ink a reflectance spectrum; the picture is light times reflectance times the
camera's sensitivities, and the true CIELAB follows from the same spectra.
"""

from tests.scenes.kinds import SCENE_KINDS, make_scene
from tests.scenes.lights import LIGHTS
from tests.scenes.scene import Scene, save_scene
from tests.scenes.sensor import TONES
from tests.scenes.truth import Truth, read_truth

__all__ = [
    "LIGHTS",
    "SCENE_KINDS",
    "TONES",
    "Scene",
    "Truth",
    "make_scene",
    "read_truth",
    "save_scene",
]
