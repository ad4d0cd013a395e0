"""All squares of one project: as data, as a file, and which of them are one fabric."""

from colorcore.bundle.fabrics import group_fabrics
from colorcore.bundle.files import bundle_from_json, bundle_to_json, read_bundle, write_bundle
from colorcore.bundle.model import Bundle, PhotoRecord, SeenAgain

__all__ = [
    "Bundle",
    "PhotoRecord",
    "SeenAgain",
    "bundle_from_json",
    "bundle_to_json",
    "group_fabrics",
    "read_bundle",
    "write_bundle",
]
