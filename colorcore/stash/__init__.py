"""The maker's own fabrics, solids and threads, in one SQLite file."""

from colorcore.stash.model import AMOUNT_UNITS, Kind, NewEntry, StashEntry
from colorcore.stash.store import Stash, default_path

__all__ = ["AMOUNT_UNITS", "Kind", "NewEntry", "Stash", "StashEntry", "default_path"]
