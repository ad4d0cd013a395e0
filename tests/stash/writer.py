"""A program that adds entries one by one and says each when it is confirmed; to be killed."""

import sys
from pathlib import Path

from colorcore.stash import Stash
from tests.stash.making import make_entry


def main() -> None:
    """Arguments: the stash file, a prefix for names, how many."""
    path, prefix, count = sys.argv[1:]
    with Stash(Path(path)) as stash:
        for n in range(int(count)):
            stash.add(make_entry(f"{prefix} {n}", source=f"{prefix}#{n}"))
            print(n, flush=True)


if __name__ == "__main__":
    main()
