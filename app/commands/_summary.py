"""What the terminal says when the work is done: the sheet in brief."""

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from app.terminal import NO_BREAK, heading, say, table, width, wrap
from colorcore.bundle import Bundle, SeenAgain
from colorcore.sheets.second_look import look_again, missed_in, photo_trust
from colorcore.swatch import Swatch
from colorcore.wording import BESIDE_PRINT, count, listing, number, sentence

if TYPE_CHECKING:
    from colorcore.sheets.view import Group, PlanView

_NOTHING_FOUND = "no square was found there; where one lies, add it by its four corners with --add."


def say_bundle(bundle: Bundle, written: Sequence[str]) -> None:
    """Say what was measured: how far to trust it, values as they lie, what to look at again."""
    photos = count(len(bundle.photos_with_squares), "photo")
    say(f"{count(len(bundle.squares), 'square')} measured in {photos}.")
    _say_trust(bundle)
    for index, record in enumerate(bundle.photos):
        squares = [s for s in bundle.squares if s.photo == index]
        if not squares:
            continue
        name = f" in {Path(record.path).name}" if len(bundle.photos) > 1 else ""
        heading(f"Value (L*, 0 black to 100 white) as the squares lie{name}")
        again = [s for s in bundle.seen_again if s.photo == index]
        for line in value_map(squares, again, bundle.squares):
            say("  " + line)
        if again:
            wrap("In brackets: squares that are counted in another photo.", indent="  ", first="  ")
    _say_look_again(look_again(bundle.squares), _amiss(bundle))
    say()
    say(f"Written: {listing(written)}")


def _amiss(bundle: Bundle) -> list[str]:
    """Say which squares seem to be missing."""
    words = []
    for index, record in enumerate(bundle.photos):
        name = f"{Path(record.path).name}: " if len(bundle.photos) > 1 else ""
        if missed := missed_in(bundle, index):
            words.append(f"{name}{listing(missed)}: {_NOTHING_FOUND}")
    return words


def say_replaced(patterns: Sequence[str]) -> None:
    """Say which patterns' plans lay where one was written, if any."""
    if patterns:
        wrap(f"This replaced the plan of {listing(patterns)} that was there.", indent="  ")


def say_plan(
    view: "PlanView",
    written: Sequence[Path],
    replaced: Sequence[str] = (),
    *,
    can_be_cut: bool = True,
) -> None:
    """Say which square goes where, what melts, what to look at again, and of which patterns the
    plans are that it replaced; and how to go on, if it can be cut."""
    plan = view.plan
    size = f", {plan.size}" if plan.size else ""
    ground = "sewn to no background"
    if view.on_background:
        ground = f"background {plan.background.label} (L* {number(plan.background.lab[0])})"
    say(
        f"{plan.pattern}{size}: {count(len(view.bundle.squares), 'square')} in "
        f"{count(len(view.stacks), 'stack')}, {ground}."
    )
    _say_trust(view.bundle)
    heading("Stacks")
    rows = [_row(group) for group in view.groups]
    head = ("Stack", "Squares", "Takes", "L* from", "to", "Hold", "Soft", "Melt")
    for line in table(head, rows, right=(1, 3, 4, 5, 6, 7)):
        say("  " + line)
    for group in view.groups:
        heading(f"{group.mark} {group.name}, darkest first")
        _say_squares(group)
    beside = [card for g in view.stacks if g.beside_background for card in g.cards]
    melting = [card.address for card in beside if card.verdict == "melts"]
    soft = [card.address for card in beside if card.verdict == "soft"]
    if melting or soft:
        heading("Against the background")
    if melting:
        wrap(f"Melts: {listing(melting)}.", indent="    ", first="  ")
    if soft:
        wrap(f"Soft: {listing(soft)}.", indent="    ", first="  ")
    if (melting or soft) and plan.background.picture is not None:
        wrap(BESIDE_PRINT, indent="  ", first="  ")
    missing = [f"{listing(view.gaps)}: {_NOTHING_FOUND}"] if view.gaps else []
    _say_look_again(view.look_again, [*missing, *plan.second_look, *plan.margins])
    if plan.proof:
        say()
        wrap(sentence(plan.proof))
    say()
    say("Written:")
    for path in written:
        say(f"  {path}")
    say_replaced(replaced)
    say()
    command = f"bundlestacks cut {shlex.quote(str(written[-1]))}"
    wrap(
        "Lay the stacks out and step back: your eye has the last word."
        + (f" Then take them to the cutting table with: {command}" if can_be_cut else "")
    )


def value_map(
    squares: Sequence[Swatch], again: Sequence[SeenAgain] = (), elsewhere: Sequence[Swatch] = ()
) -> list[str]:
    """Return the L* of squares as they lie, a line a row, as many columns as fit the terminal; in
    brackets that of those seen ``again``, which are counted ``elsewhere``."""
    if not squares:
        return []
    most = max(1, (width() - 8) // 5)
    lying: list[Swatch | SeenAgain] = [*squares, *again]
    columns = sorted({s.column for s in lying})
    values = {s.id: number(s.lab[0]) for s in elsewhere}
    words = {(s.row, s.column): f"({values[s.square]})" for s in again}
    words |= {(s.row, s.column): number(s.lab[0]) for s in squares}
    names = {s.row: s.address.rstrip("0123456789") for s in again}
    names |= {s.row: s.id.rstrip("0123456789") for s in squares}
    lines: list[str] = []
    for start in range(0, len(columns), most):
        shown = columns[start : start + most]
        left = max(len(name) for name in names.values())
        lines.append(" " * left + "".join(f"{column + 1:>5}" for column in shown))
        lines += [
            f"{names[row]:<{left}}"
            + "".join(f"{words.get((row, c), ''):>5}" for c in shown).rstrip()
            for row in sorted(names)
        ]
    return lines


def _row(group: "Group") -> tuple[str, ...]:
    ends = group.lightness_range
    judged = group.beside_background and any(card.verdict for card in group.cards)
    verdicts = group.verdicts.values() if judged else ("-",) * 3
    return (
        f"{group.mark} {group.name}",
        str(len(group.cards)),
        f"{group.value}, {group.role}" if group.is_stack else "",
        number(ends[0]) if ends else "",
        number(ends[1]) if ends else "",
        *map(str, verdicts),
    )


def _say_squares(group: "Group") -> None:
    words = (f"{card.address}{NO_BREAK}{number(card.lightness)}" for card in group.cards)
    wrap("  ".join(words), indent="  ")


def _say_trust(bundle: Bundle) -> None:
    for trust in photo_trust(bundle):
        wrap(f"{trust.who}: {trust.words}", indent="  ", first="")
        for note in trust.notes:
            wrap(note, indent="    ", first="  ")


def _say_look_again(
    flagged: Sequence[tuple[tuple[str, ...], str]], sentences: Sequence[str] = ()
) -> None:
    if not flagged and not sentences:
        return
    heading("Look again before the first cut")
    for words in sentences:
        wrap(sentence(words), indent="    ", first="  - ")
    for ids, words in flagged:
        wrap(f"{listing(ids)}: {words}.", indent="    ", first="  - ")
