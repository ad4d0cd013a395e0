"""All squares of one project: as data and as a file."""

from colorcore.bundle.files import bundle_from_json, bundle_to_json, read_bundle, write_bundle
from colorcore.bundle.model import Bundle, PhotoRecord

__all__ = [
    "Bundle",
    "PhotoRecord",
    "bundle_from_json",
    "bundle_to_json",
    "read_bundle",
    "write_bundle",
]
