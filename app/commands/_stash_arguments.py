"""Arguments of ``bundlestacks stash``."""

import argparse
from typing import Any

from app.commands._photos import add_terminal_arguments, photo_point, side

EXAMPLE = """examples:
  bundlestacks stash add shelf-photos --as piece --amount '1 1/2 yards' --place 'shelf 2'
  bundlestacks stash add fir.jpg --name 'Fir green' --amount 'half a yard'
  bundlestacks stash add threads.jpg --as spool
  bundlestacks stash list navy
  bundlestacks stash show 'Fir green' --picture fir-picture.png
  bundlestacks stash rename 'Fir green' 'Deep fir'
  bundlestacks stash use 'Deep fir' '1/4 yard'
  bundlestacks stash correct 'Deep fir' --amount '2 yards' --place 'blue box'
  bundlestacks stash remove 'Deep fir'
  bundlestacks stash undo
  bundlestacks stash export stash.csv
  bundlestacks stash import stash.csv
  bundlestacks stash backup stash-copy.sqlite
"""


def add_stash_parser(subparsers: Any) -> None:
    """Add the verb's parser with one for every action."""
    parser = subparsers.add_parser(
        "stash",
        help="keep your own fabrics, solids and threads, measured",
        description="The stash is one file on this computer with everything that you measured: "
        "name, amount, place, note, picture, colour and how far it can be trusted. 'swap' and "
        "'--background' choose from it.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", title="actions", required=True)
    _add_add(actions)
    listed = _action(actions, "list", "list what is there", "stash list navy --kind fabric")
    listed.add_argument(
        "words", nargs="?", default="", help="only what has this in its name, place, note or colour"
    )
    listed.add_argument("--kind", choices=("fabric", "solid", "thread"), help="only this kind")
    listed.add_argument("--removed", action="store_true", help="what was removed instead")
    shown = _action(actions, "show", "show all about one entry", "stash show 'Fir green'")
    shown.add_argument("name", help="its name or number")
    shown.add_argument("--picture", metavar="FILE", help="write its picture (.jpg or .png)")
    renamed = _action(
        actions, "rename", "give an entry another name", "stash rename fir 'Fir green'"
    )
    renamed.add_argument("name", help="its name or number")
    renamed.add_argument("new_name", metavar="NEW", help="the name that it gets")
    used = _action(actions, "use", "take from an entry's amount", "stash use fir '1/4 yard'")
    used.add_argument("name", help="its name or number")
    used.add_argument("amount", help="how much is used: '1/4 yard', '2 squares'")
    corrected = _action(
        actions, "correct", "correct amount, place or note", "stash correct fir --amount '2 yards'"
    )
    corrected.add_argument("name", help="its name or number")
    corrected.add_argument("--amount", help="how much there is")
    corrected.add_argument("--place", help="where it is kept")
    corrected.add_argument("--note", help="what else to know")
    removed = _action(actions, "remove", "take entries out (can be undone)", "stash remove fir")
    removed.add_argument("names", nargs="+", metavar="NAME", help="names or numbers")
    _action(actions, "undo", "take back the newest change", "stash undo")
    exported = _action(actions, "export", "write all as .json or .csv", "stash export stash.csv")
    exported.add_argument("file", help="FILE.json (everything) or FILE.csv (for a spreadsheet)")
    imported = _action(
        actions, "import", "take over a .json or .csv", "stash import other-stash.json"
    )
    imported.add_argument("file", help="FILE.json or FILE.csv as 'export' writes them")
    backed = _action(actions, "backup", "copy the stash", "stash backup copy.sqlite")
    backed.add_argument("file", help="the copy to write; a stash as any other")


def _action(actions: Any, name: str, words: str, example: str) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = actions.add_parser(
        name,
        help=words,
        description=words[0].upper() + words[1:] + ".",
        epilog=f"example:\n  bundlestacks {example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--stash", metavar="FILE", help="the stash file (default: in your user data folder)"
    )
    return parser


def _add_add(actions: Any) -> None:
    parser = _action(
        actions,
        "add",
        "measure photos and keep what they show",
        "stash add shelf-photos --as piece --amount '1 yard' --place 'shelf 2'",
    )
    parser.add_argument("photos", nargs="+", metavar="PHOTO", help="photos, or folders of photos")
    parser.add_argument(
        "--as",
        dest="subject",
        choices=("any", "squares", "piece", "edges", "fat-quarter", "spool"),
        default="any",
        help="what the photos show: several squares, pieces of any form that lie apart (folded "
        "yardage, one piece filling the picture), a stack of folded cloth seen from its edges, "
        "fat quarters, spools of thread (default: squares if there are some, else pieces)",
    )
    parser.add_argument(
        "--amount",
        help="how much there is of each: '1 1/2 yards', 'half a yard', '2 fat quarters', "
        "'6 squares', '50 cm'",
    )
    parser.add_argument("--kind", choices=("fabric", "solid", "thread"), help="what it is")
    parser.add_argument("--name", default="", help="its name (default: the file's)")
    parser.add_argument("--place", default="", help="where it is kept")
    parser.add_argument("--note", default="", help="what else to know")
    parser.add_argument(
        "--square-inches", metavar="10", type=side, default=10.0, help="side of squares, inches"
    )
    parser.add_argument(
        "--piece-inches",
        metavar="9",
        type=side,
        help="longer side of each piece as it lies, inches: tells the size of its print",
    )
    parser.add_argument(
        "--white", metavar="X,Y", type=photo_point, help="a point on the white paper, in pixels"
    )
    parser.add_argument(
        "--region",
        metavar="X,Y",
        nargs=2,
        type=photo_point,
        help="measure only between these corners, top left and bottom right, in pixels",
    )
    parser.add_argument(
        "--processes",
        metavar="N",
        type=int,
        help="how many photos to measure at a time (default: one for each core)",
    )
    add_terminal_arguments(parser)
