"""Text that came from outside, made safe for a terminal line or a spreadsheet cell."""

import unicodedata


def printable(text: str) -> str:
    """Return ``text`` with control and invisible formatting characters made visible.

    A file name may hold anything, also characters that move the cursor or turn the writing
    direction; new lines are kept.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        c if c == "\n" or unicodedata.category(c) not in ("Cc", "Cf", "Cs") else f"\\x{ord(c):02x}"
        for c in text
    )


def writable(text: str) -> str:
    """Return ``text`` as it can be written in UTF-8.

    A file name may hold bytes that are no letters in UTF-8, as names from old computers do; Python
    carries them as lone surrogates, which no file of ours can hold. They become ``\\udcfc``.
    """
    if text.isascii():
        return text
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def shown(value: object) -> str:
    """Return what a file gave, as an error names it: as Python writes it, 60 characters at most."""
    try:
        text = repr(value)
    except ValueError:  # Python writes no whole number of more than some thousand digits
        text = "a number of thousands of digits"
    return text if len(text) <= 60 else text[:57] + "..."


def cell(text: str) -> str:
    """Return ``text`` so that no spreadsheet takes it for a formula.

    A cell that begins with one of ``= + - @``, a tab or a line end is run as a formula by common
    spreadsheets (OWASP, "CSV Injection"); an apostrophe before it makes it text.
    """
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") else text
