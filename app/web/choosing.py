"""What a maker chooses for her stacks: pattern, size and background."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from app.web.workshop import DEFAULT_BACKGROUND, Workshop, chosen_pattern
from colorcore.pattern import shipped_patterns
from colorcore.project import Choices

CHOSE: Final = "chose pattern, size or background"


def standing(what: str, choices: Choices) -> str:
    """Return the ``pattern``, ``size`` or ``background`` of a project, chosen or not.

    Raises
    ------
    PatternError
        If the project's own pattern is not one.
    """
    if what == "pattern":
        return choices.pattern or next(iter(shipped_patterns()))
    if what == "size":
        return choices.size or chosen_pattern(choices).sizes[0].name
    return choices.background or DEFAULT_BACKGROUND


def with_choice(workshop: Workshop, what: str, value: str, choices: Choices) -> tuple[Choices, str]:
    """Return choices with another ``pattern``, ``size`` or ``background``, and the words for that
    step. A size that the pattern lacks gives way to its first.

    What stands already need not be said. The browser may say it all the same, of fields that were
    drawn by a run which a second click cut short: that is no step, and nothing that was undone is
    let go for it.

    Raises
    ------
    BundleError
        If there is no such pattern or background.
    """
    if value == standing(what, choices):
        return choices, CHOSE
    if what == "pattern":
        new = replace(choices, pattern=value)
    elif what == "size":
        new = replace(choices, size=value)
    else:
        new = replace(choices, background=value)
        workshop.background(new)
    sizes = [size.name for size in chosen_pattern(new).sizes]
    if new.size not in sizes:
        new = replace(new, size=sizes[0])
    return new, CHOSE
