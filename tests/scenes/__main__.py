"""``python -m tests.scenes KIND SEED OUT.jpg`` writes one scene and its truth."""

import argparse

from tests.scenes import SCENE_KINDS, make_scene, save_scene


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.scenes", description=__doc__)
    parser.add_argument("kind", choices=SCENE_KINDS)
    parser.add_argument("seed", type=int)
    parser.add_argument("out", help="OUT.jpg, .png, .tif or .heic; the truth goes to OUT.json")
    parser.add_argument("--megapixels", type=float, default=3.0)
    parser.add_argument("--light", default="even")
    parser.add_argument("--tone", default="srgb")
    parser.add_argument("--reference", default="paper")
    args = parser.parse_args()
    try:
        scene = make_scene(
            args.kind,
            args.seed,
            megapixels=args.megapixels,
            light=args.light,
            tone=args.tone,
            reference=args.reference,
        )
    except ValueError as error:
        parser.error(str(error))
    save_scene(scene, args.out)


if __name__ == "__main__":
    main()
