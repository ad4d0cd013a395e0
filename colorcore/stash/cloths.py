"""What the stash has for finishing: threads, and cloth by the length."""

from colorcore.finishing import Candidate
from colorcore.lengths import INCHES_PER_YARD
from colorcore.stash.model import Kind
from colorcore.stash.store import Stash


def threads_and_cloths(stash: Stash) -> tuple[list[Candidate], list[Candidate]]:
    """Return threads, and fabrics and solids that are kept in yards with how many inches there
    are of them."""
    threads, cloths = [], []
    for entry in stash.entries():
        if entry.kind is Kind.THREAD:
            threads.append(Candidate(entry.name, entry.lab))
        elif entry.unit == "yards":
            inches = float(entry.amount * INCHES_PER_YARD)
            cloths.append(Candidate(entry.name, entry.lab, inches))
    return threads, cloths
