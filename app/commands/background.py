"""``bundlestacks background``: which background serves a bundle best."""

import argparse
from typing import TYPE_CHECKING, Any

from app.commands._deal_arguments import (
    add_bundle_argument,
    add_lookup_argument,
    add_size_arguments,
    add_threshold_arguments,
)
from app.commands._photos import add_photo_arguments, add_terminal_arguments

if TYPE_CHECKING:
    from colorcore.contrast import Background
    from colorcore.stacking.ranking import Candidate, Ranking

EXAMPLE = """examples:
  bundlestacks background bundle.json --try '#fff' --try '#20304a' --try B3
  bundlestacks background bundle.json --try white --try navy --pattern gatepost-stars \\
      --out background.svg
"""
_MOST_NAMED = 8


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "background",
        help="compare backgrounds: what holds, what melts, and which value would serve best",
        description="Judge every piece of every square along its seams beside each background, "
        "as seen from across a room, rank the backgrounds, and say which value would serve "
        "best. With a pattern, the bundle is dealt anew for each background and the pieces of "
        "the pattern are judged, those of focal stacks before those of fill; without one, patches "
        "of 2½ inches.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_bundle_argument(parser)
    parser.add_argument(
        "--try",
        dest="tries",
        metavar="B",
        action="append",
        required=True,
        help="a background: a CSS colour such as '#f4efe6', the address of a square in the "
        "photo, the name of a fabric in the stash, or a photo of the cloth: cloth.jpg, "
        "cloth.jpg:B3 for one of several pieces, cloth.jpg@X,Y,X,Y for a region from corner to "
        "corner (repeat it to compare)",
    )
    parser.add_argument(
        "--pattern", metavar="P", help="a pattern file, or the name of one that comes along"
    )
    add_size_arguments(parser)
    parser.add_argument(
        "--out", metavar="FILE.svg", help="also draw the squares and backgrounds on the value axis"
    )
    add_lookup_argument(parser)
    add_threshold_arguments(parser)
    add_photo_arguments(parser)
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Rank the backgrounds, say what came of it, and draw the chart if asked."""
    from app.commands._backgrounds import read_background
    from app.commands._cloth import cloth_clues
    from app.commands._dealing import bundle_from, read_thresholds
    from app.commands._files import open_pattern
    from app.commands._measuring import check_place
    from app.terminal import Progress
    from colorcore.contrast.cloth import as_cloth_comes
    from colorcore.errors import BundleError
    from colorcore.stacking.ranking import rank_backgrounds

    limits = read_thresholds(args)
    pattern = None if args.pattern is None else open_pattern(args.pattern)
    if pattern is None and (args.size or args.lock):
        raise BundleError("--size and --lock need a pattern; name one with --pattern.")
    if args.out is not None:
        check_place(args.out)
    bundle, _ = bundle_from(args)
    clues = cloth_clues(args)
    tries: dict[str, tuple[Background, tuple[str, ...]]] = {}
    instead: list[str] = []
    for text in dict.fromkeys(args.tries):
        background, used = read_background(text, bundle, args.stash, clues)
        compared, words = as_cloth_comes(background)
        tries.setdefault(compared.label if words else text, (compared, used))
        instead += [words] if words else []
    with Progress(lines=args.progress) as progress:
        progress(0, 1, "Judging pieces beside each background")
        ranking = rank_backgrounds(
            bundle,
            list(tries.values()),
            pattern=pattern,
            size=args.size,
            locks=args.lock,
            thresholds=limits,
        )
    if args.out is not None:
        from colorcore.sheets.value_axis import draw_value_axis
        from colorcore.writing import write_atomically

        chart = draw_value_axis(bundle.squares, ranking, thresholds=limits)
        write_atomically(args.out, chart.encode("utf-8"))
    if not args.quiet:
        _say(ranking, instead, args.out)
    return 0


def _say(ranking: "Ranking", instead: list[str], chart: str | None) -> None:
    from app.terminal import heading, say, table, wrap

    for words in instead:
        wrap(words)
    heading("Backgrounds, the best first")
    head = ("", "background", "L*", "holds", "soft", "melts", "even-handed", "worst piece")
    rows = [_row(n, candidate) for n, candidate in enumerate(ranking.candidates, 1)]
    for line in table(head, rows, right=(0, 2, 3, 4, 5, 6)):
        say(line)
    say()
    wrap(ranking.basis)
    parts = "stacks" if any(c.plan for c in ranking.candidates) else "darks, mediums and lights"
    wrap(
        f"Even-handed: 100 % where all {parts} hold alike, less where some hold and others do not."
    )
    say()
    for n, candidate in enumerate(ranking.candidates, 1):
        groups = ", ".join(f"{name} {_percent(share)}" for name, share in candidate.groups)
        words = f"Holds by {'stack' if candidate.plan else 'value'}: {groups}."
        if candidate.focal_apart:
            words += f" Of the focal pieces {_percent(candidate.focal_apart.melts)} melt."
        if candidate.melting:
            words += f" Mostly melting: {_named(candidate.melting)}."
        if candidate.background.doubt:
            words += f" {candidate.background.doubt}"
        if candidate.trouble:
            words = f"{candidate.trouble} Judged as loose patches: {words}"
        wrap(words, first=f"{n}  ", indent="   ")
    say()
    wrap(ranking.sentence)
    if chart is not None:
        wrap(f"Wrote {chart}.")


def _row(n: int, candidate: "Candidate") -> tuple[str, ...]:
    worst = candidate.worst
    kind = "" if candidate.background.picture is None else " (print)"
    return (
        str(n),
        candidate.background.label + kind,
        f"{candidate.background.lab[0]:.0f}",
        _percent(candidate.holds),
        _percent(candidate.soft),
        _percent(candidate.melts),
        _percent(candidate.even_handed),
        "" if worst is None else f"{worst.square}: {_percent(worst.melts)} of its edge melts",
    )


def _percent(share: float) -> str:
    from colorcore.wording import percent

    return percent(share)


def _named(squares: tuple[str, ...]) -> str:
    if len(squares) <= _MOST_NAMED:
        return ", ".join(squares)
    return f"{', '.join(squares[:_MOST_NAMED])} and {len(squares) - _MOST_NAMED} more"
