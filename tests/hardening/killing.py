"""Kill a program at any moment, and look at what it left behind.

``python -m tests.hardening.killing [TIMES]`` does it by hand as often as asked.
"""

import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from colorcore.project import Projects
from colorcore.stash import Stash

PROJECT_PROGRAM = """
import sys
from dataclasses import replace
from pathlib import Path
from colorcore.project import Projects
with Projects(Path(sys.argv[1])) as projects:
    known = projects.list()
    number = known[0].id if known else projects.create("throw")
    at = int(projects.load(number).option("step", "0"))
    print("ready", at, flush=True)
    for step in range(at + 1, at + 5000):
        choices = projects.load(number).with_option("step", str(step))
        projects.put_picture(f"picture {step % 7}", bytes(20000))
        projects.save(number, choices, f"step {step}")
        print("kept", step, flush=True)
"""

STASH_PROGRAM = """
import sys
from pathlib import Path
from colorcore.stash import Stash
from tests.stash.making import make_entry
with Stash(Path(sys.argv[1])) as stash:
    at = len(stash.entries())
    print("ready", at, flush=True)
    for step in range(at + 1, at + 5000):
        stash.add(make_entry(f"cloth {step}"))
        print("kept", step, flush=True)
"""

SHEET_PROGRAM = """
import sys
from colorcore.sheets.folder import output_folder
print("ready", 0, flush=True)
for turn in range(1, 5000):
    # plan.json is written last and marks a complete set.
    with output_folder(sys.argv[1]) as folder:
        body = str(turn).encode() * 4000
        folder.publish({"plan.csv": body, "plan.html": body, "plan.json": body})
    print("kept", turn, flush=True)
"""


def kill_at_random(
    program: str, place: Path, rng: random.Random, check: Callable[[Path, int], None]
) -> int:
    """Run a program that prints ``kept N`` after every confirmed step, kill it within 60 ms of
    its being ready, and check the place with the last confirmed step; return that step."""
    command = [sys.executable, "-c", program, str(place)]
    home = Path(__file__).parents[2]
    with subprocess.Popen(command, cwd=home, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        first = process.stdout.readline().split()
        time.sleep(rng.random() * 0.06)
        process.kill()
        told = [line.split() for line in process.stdout.read().splitlines()]
    kept = [int(words[1]) for words in told if len(words) == 2 and words[0] == "kept"]
    confirmed = kept[-1] if kept else int(first[1])
    check(place, confirmed)
    return confirmed


def check_project(place: Path, confirmed: int) -> None:
    """Everything confirmed is there, and at most the step that was under way besides."""
    with Projects(place) as projects:
        (info,) = projects.list()
        at = int(projects.load(info.id).option("step", "0"))
        assert confirmed <= at <= confirmed + 1
        if at == 0:
            assert projects.undo(info.id) is None
            return
        assert projects.undo(info.id) == f"step {at}"
        assert projects.load(info.id).option("step", "0") == str(at - 1).replace("-1", "0")
        assert projects.redo(info.id) == f"step {at}"


def check_stash(place: Path, confirmed: int) -> None:
    """Everything confirmed is there, and at most the cloth that was under way besides."""
    with Stash(place) as stash:
        names = {entry.name for entry in stash.entries()}
    assert confirmed <= len(names) <= confirmed + 1
    assert names == {f"cloth {n}" for n in range(1, len(names) + 1)}


def check_sheets(place: Path, confirmed: int) -> None:
    """Every file is whole: of one turn, the newest or one that was under way."""
    if not place.is_dir() and confirmed == 0:
        return
    turns = {}
    for name in ("plan.csv", "plan.html", "plan.json"):
        if (place / name).exists():
            text = (place / name).read_text()
            turn = next(n for n in (confirmed, confirmed + 1) if text == str(n) * 4000)
            turns[name] = turn
    if confirmed:
        assert set(turns) == {"plan.csv", "plan.html", "plan.json"}
        assert turns["plan.json"] == min(turns.values())


def run(times: int, seed: int) -> dict[str, int]:
    """Kill each program so often; return the last confirmed steps."""
    rng = random.Random(seed)
    last = {"project": 0, "stash": 0, "sheets": 0}
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(times):
            place = Path(folder) / "projects.sqlite"
            last["project"] = kill_at_random(PROJECT_PROGRAM, place, rng, check_project)
            stash = Path(folder) / "stash.sqlite"
            last["stash"] = kill_at_random(STASH_PROGRAM, stash, rng, check_stash)
            with tempfile.TemporaryDirectory() as fresh:
                out = Path(fresh) / "out"
                last["sheets"] = kill_at_random(SHEET_PROGRAM, out, rng, check_sheets)
    return last


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(json.dumps({"kills of each": count, "last confirmed": run(count, 1)}))
