"""Which option says what the library found missing: its own sentences name none."""

from typing import Final

from colorcore.errors import Lack

OPTIONS: Final = {
    Lack.GRID: "--grid ROWSxCOLUMNS",
    Lack.SIDE: "--square-inches",
    Lack.SUBJECT: "--as squares",
    Lack.AMOUNT: "'bundlestacks stash correct', --amount",
    Lack.STASH_FILE: "--stash FILE",
    Lack.PROJECT_FILE: "--projects FILE",
}
"""Every sentence ends with what to do, so the option follows in brackets."""


def with_option(words: str, lack: Lack | None) -> str:
    """Return a sentence of the library with the option that says what is missing."""
    return words if lack is None else f"{words.rstrip('.')} ({OPTIONS[lack]})."
