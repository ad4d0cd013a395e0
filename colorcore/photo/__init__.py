"""Open a picture file: upright, colour-managed, ready for linear light; with its limits."""

from colorcore.photo.ahead import PhotoAhead
from colorcore.photo.encoding import Encoding
from colorcore.photo.model import Photo, photo_from_array
from colorcore.photo.opening import begin_opening, open_photo, photo_from_bytes

__all__ = [
    "Encoding",
    "Photo",
    "PhotoAhead",
    "begin_opening",
    "open_photo",
    "photo_from_array",
    "photo_from_bytes",
]
