"""``bundlestacks stash``: the maker's own fabrics, solids and threads."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands._stash_arguments import add_stash_parser

if TYPE_CHECKING:
    from colorcore.stash import Stash, StashEntry


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    add_stash_parser(subparsers)


def run(args: argparse.Namespace) -> int:
    """Do what the action says."""
    actions: dict[str, Callable[[argparse.Namespace], int]] = {
        "add": _add,
        "list": _list,
        "show": _show,
        "rename": _rename,
        "use": _use,
        "correct": _correct,
        "remove": _remove,
        "undo": _undo,
        "export": _export,
        "import": _import,
        "backup": _backup,
    }
    return actions[args.action](args)


def open_stash(args: argparse.Namespace, *, writing: bool = False) -> "Stash":
    """Return the stash that the arguments name, opened.

    Raises
    ------
    StashError
        If it cannot be, or is to be read and is not there.
    """
    from colorcore.errors import StashError
    from colorcore.stash import Stash, default_path

    if not writing and not args.stash and not default_path().is_file():
        raise StashError("You have no stash yet; begin one with 'bundlestacks stash add PHOTO'.")
    return Stash(Path(args.stash) if args.stash else default_path(), read_only=not writing)


def _add(args: argparse.Namespace) -> int:
    from app.commands._photos import picture_paths
    from app.commands._remedies import with_option
    from app.commands._workers import workers
    from app.terminal import Progress, heading, say, wrap
    from colorcore.stash.intake import add_photos
    from colorcore.wording import count

    settings = _settings(args)
    paths = picture_paths(args.photos)
    with (
        open_stash(args, writing=True) as stash,
        workers(len(paths), args.processes) as executor,
        Progress(lines=args.progress) as progress,
    ):
        intake = add_photos(stash, paths, settings=settings, executor=executor, progress=progress)
        added = [stash.entry(name) for name in intake.added]
        place = stash.path
    if not args.quiet:
        say(f"{count(len(added), 'entry', 'entries')} added to {place}.")
        if intake.known:
            say(f"{count(len(intake.known), 'photo is', 'photos are')} in the stash already.")
        _say_entries(added[:40])
        if len(added) > 40:
            say(f"  ... and {len(added) - 40} more: bundlestacks stash list")
    if intake.skipped:
        heading(f"{count(len(intake.skipped), 'photo')} skipped")
        for path, words in intake.skipped:
            name = Path(path).name
            wrap(words if name in words else f"{name}: {words}", indent="    ", first="  - ")
    for note in intake.notes:
        wrap(with_option(note.words, note.lack))
    return 0 if added or intake.known else 2


def _settings(args: argparse.Namespace) -> Any:
    from colorcore.errors import StashError
    from colorcore.stash import Kind
    from colorcore.stash.amounts import parse_amount
    from colorcore.stash.intake import IntakeSettings
    from colorcore.stash.measuring import Subject

    usual = {"squares": "squares", "fat-quarter": "fat quarters", "spool": "spools"}
    unit = usual.get(args.subject, "yards")
    amount, unit_said = parse_amount(args.amount, unit=unit) if args.amount else (None, None)
    if (args.name or args.region or args.white) and len(args.photos) > 1:
        raise StashError("--name, --white and --region are for one photo; add them one by one.")
    if args.processes is not None and not 1 <= args.processes <= 512:
        raise StashError("--processes lies between 1 and 512.")
    region = (*args.region[0][1], *args.region[1][1]) if args.region else None
    return IntakeSettings(
        subject=Subject(args.subject),
        amount=amount,
        unit=unit_said,
        kind=Kind(args.kind) if args.kind else None,
        name=args.name,
        place=args.place,
        note=args.note,
        square_inches=args.square_inches,
        piece_inches=args.piece_inches,
        white=args.white[1] if args.white else None,
        region=region,
    )


def _list(args: argparse.Namespace) -> int:
    from app.terminal import say
    from colorcore.stash import Kind
    from colorcore.stash.wording import mentions
    from colorcore.wording import count

    kind = Kind(args.kind) if args.kind else None
    with open_stash(args) as stash:
        entries = [
            entry
            for entry in stash.entries(kind=kind, removed=args.removed)
            if mentions(entry, args.words)
        ]
    if not entries:
        say("Nothing like that is there." if args.words or kind else "The stash is empty.")
        return 0
    _say_entries(entries)
    say(f"{count(len(entries), 'entry', 'entries')}.")
    return 0


def _say_entries(entries: "list[StashEntry]") -> None:
    from app.terminal import say, table
    from colorcore.stash.amounts import say_amount
    from colorcore.stash.wording import describe_entry
    from colorcore.wording import number

    if not entries:
        return
    rows = [
        (
            entry.name,
            str(entry.kind),
            say_amount(entry.amount, entry.unit),
            number(entry.lab[0]),
            describe_entry(entry),
            entry.trust,
            entry.place,
        )
        for entry in entries
    ]
    head = ("Name", "Kind", "Amount", "L*", "Colour and print", "Trust", "Place")
    for line in table(head, rows, right=(3,)):
        say("  " + line)


def _show(args: argparse.Namespace) -> int:
    from fractions import Fraction

    from app.terminal import bold, say, wrap
    from colorcore.color.naming import describe_color
    from colorcore.flags import describe
    from colorcore.lengths import exact_inches
    from colorcore.sheets.pictures import encode_picture
    from colorcore.stash.amounts import say_amount
    from colorcore.stash.wording import describe_entry, say_squares
    from colorcore.wording import TRUST_WORDS, number
    from colorcore.writing import write_atomically

    with open_stash(args) as stash:
        entry = stash.entry(args.name)
        swatch = stash.swatch(entry.id)
    if args.picture:
        write_atomically(args.picture, encode_picture(swatch.picture, Path(args.picture).suffix))
    own = exact_inches(swatch.side_inches)
    gives = say_squares(entry, Fraction(10), own)
    amount = say_amount(entry.amount, entry.unit) + (f" ({gives})" if gives else "")
    scale = entry.print_scale_inches
    say(bold(entry.name))
    rows = [
        ("number", str(entry.id)),
        ("kind", str(entry.kind)),
        ("amount", amount),
        ("place", entry.place),
        ("note", entry.note),
        ("colour", describe_entry(entry)),
        ("L* a* b*", "  ".join(number(v, 1) for v in entry.lab)),
        ("± (1 sd)", "  ".join(number(v, 1) for v in entry.lab_sd)),
        ("value spread", f"{number(entry.value_spread, 1)} L*"),
        ("print size", "" if scale is None else f"{scale:.1f} in"),
        ("colours", ", ".join(f"{describe_color(c.lab)} {c.share:.0%}" for c in entry.palette)),
        ("rests on", "no reference" if entry.reference == "none" else entry.reference),
        ("trust", f"{entry.trust}: {TRUST_WORDS[entry.trust]}"),
        ("added", entry.added),
        ("removed", entry.removed),
    ]
    for name, words in rows:
        if words:
            wrap(words, indent=" " * 16, first=f"  {name:<14}")
    for flag in swatch.flags:
        wrap(describe(flag), indent="    ", first="  - ")
    if args.picture:
        say(f"Written: {args.picture}")
    return 0


def _rename(args: argparse.Namespace) -> int:
    from app.terminal import say

    with open_stash(args, writing=True) as stash:
        was = stash.entry(args.name).name
        say(f"{was} is {stash.rename(was, args.new_name).name} now.")
    return 0


def _use(args: argparse.Namespace) -> int:
    from app.terminal import say
    from colorcore.stash.amounts import say_amount

    with open_stash(args, writing=True) as stash:
        entry = stash.entry(args.name)
        left = stash.use(entry.id, _amount_of(entry, args.amount))
        say(f"{left.name}: {say_amount(left.amount, left.unit)} left.")
    return 0


def _amount_of(entry: "StashEntry", text: str) -> Any:
    from colorcore.errors import StashError
    from colorcore.stash.amounts import parse_amount

    amount, unit = parse_amount(text, unit=entry.unit)
    if unit != entry.unit:
        raise StashError(f"{entry.name} is kept in {entry.unit}; say how many {entry.unit}.")
    return amount


def _correct(args: argparse.Namespace) -> int:
    from app.terminal import say
    from colorcore.errors import StashError

    if args.amount is None and args.place is None and args.note is None:
        raise StashError("Say what to correct: --amount, --place or --note.")
    with open_stash(args, writing=True) as stash:
        entry = stash.entry(args.name)
        amount = None if args.amount is None else _amount_of(entry, args.amount)
        stash.describe(entry.id, amount=amount, place=args.place, note=args.note)
        _say_entries([stash.entry(entry.id)])
    say("Corrected; 'bundlestacks stash undo' takes it back.")
    return 0


def _remove(args: argparse.Namespace) -> int:
    from app.terminal import say
    from colorcore.wording import listing

    with open_stash(args, writing=True) as stash:
        gone = stash.remove_all(args.names)
    names = listing([entry.name for entry in gone])
    say(f"Removed {names}; 'bundlestacks stash undo' brings it back.")
    return 0


def _undo(args: argparse.Namespace) -> int:
    from app.terminal import say

    with open_stash(args, writing=True) as stash:
        say(f"Taken back: {stash.undo()}.")
    return 0


def _export(args: argparse.Namespace) -> int:
    from app.terminal import say
    from colorcore.stash.csv_files import export_csv
    from colorcore.stash.json_files import export_json
    from colorcore.wording import count
    from colorcore.writing import write_atomically

    is_table = _is_table(args.file)
    with open_stash(args) as stash:
        number = len(stash.entries())
        content = export_csv(stash) if is_table else b"".join(export_json(stash))
    write_atomically(args.file, content)
    say(f"{count(number, 'entry', 'entries')} written to {args.file}.")
    return 0


def _import(args: argparse.Namespace) -> int:
    from app.terminal import say
    from colorcore.stash.exchange import import_csv, import_json
    from colorcore.wording import count

    read = import_csv if _is_table(args.file) else import_json
    with open_stash(args, writing=True) as stash:
        done = read(stash, args.file)
        say(
            f"{count(len(done.added), 'entry', 'entries')} added, {len(done.changed)} corrected, "
            f"{done.known} as they were."
        )
    return 0


def _is_table(file: str) -> bool:
    from colorcore.errors import StashError

    ending = Path(file).suffix.lower()
    if ending not in (".json", ".csv"):
        raise StashError(f"{file}: name a file that ends in .json or .csv.")
    return ending == ".csv"


def _backup(args: argparse.Namespace) -> int:
    from app.terminal import say

    with open_stash(args) as stash:
        stash.backup(Path(args.file))
    say(f"Copied to {args.file}.")
    return 0
