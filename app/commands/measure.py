"""``bundlestacks measure``: from photos to a bundle file."""

import argparse
from typing import Any

from app.commands._photos import add_photo_arguments, add_terminal_arguments

EXAMPLE = """examples:
  bundlestacks measure table.jpg --out bundle.json
  bundlestacks measure left.jpg right.heic --white 2:212,340 --out bundle.json
  bundlestacks measure table.jpg --grid 6x7 --ignore 1480,300 --out bundle.json \\
      --overlay outlined.jpg
"""


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "measure",
        help="measure every square in photos of a bundle",
        description="Find every square in the photos, undo the light, measure each square and "
        "write the bundle as JSON. Lay a sheet of plain white paper beside the squares: "
        "the colours rest on it.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("photos", nargs="+", metavar="PHOTO", help="a photo, or a folder of photos")
    parser.add_argument(
        "--out", required=True, metavar="FILE", help="the bundle file to write, such as bundle.json"
    )
    parser.add_argument(
        "--overlay",
        metavar="FILE",
        help="also write the photo with its squares outlined (.jpg or .png); "
        "with several photos, one file each: FILE-1, FILE-2",
    )
    add_photo_arguments(parser)
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Measure and write the bundle."""
    from app.commands._measuring import check_place, measure, save_overlays
    from app.commands._summary import say_bundle
    from colorcore.bundle import write_bundle

    check_place(args.out)
    if args.overlay:
        check_place(args.overlay)
    bundle = measure(args)
    overlays = save_overlays(args, bundle) if args.overlay else ()
    write_bundle(bundle, args.out)
    if not args.quiet:
        say_bundle(bundle, (args.out, *map(str, overlays)))
    return 0
