"""Kill a program at any moment, and look at what it left behind.

``python -m tests.hardening.killing [TIMES]`` does it by hand as often as asked.
"""

import json
import multiprocessing
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

from colorcore.project import Projects
from colorcore.sheets.folder import output_folder
from colorcore.stash import Stash
from tests.stash.making import make_entry

Program = Callable[[Path, Connection], None]


def _keep_projects(place: Path, tell: Connection) -> None:
    with Projects(place) as projects:
        known = projects.list()
        number = known[0].id if known else projects.create("throw")
        at = int(projects.load(number).option("step", "0"))
        tell.send(at)
        for step in range(at + 1, at + 5000):
            choices = projects.load(number).with_option("step", str(step))
            projects.put_picture(f"picture {step % 7}", bytes(20000))
            projects.save(number, choices, f"step {step}")
            tell.send(step)


def _keep_stash(place: Path, tell: Connection) -> None:
    with Stash(place) as stash:
        at = len(stash.entries())
        tell.send(at)
        for step in range(at + 1, at + 5000):
            stash.add(make_entry(f"cloth {step}"))
            tell.send(step)


def _write_sheets(place: Path, tell: Connection) -> None:
    tell.send(0)
    for turn in range(1, 5000):
        # plan.json is written last and marks a complete set.
        with output_folder(place) as folder:
            body = str(turn).encode() * 4000
            folder.publish({"plan.csv": body, "plan.html": body, "plan.json": body})
        tell.send(turn)


def _processes() -> multiprocessing.context.BaseContext:
    """Where processes come from: copies of one that has imported everything and opened nothing,
    where the system can do that, for starting takes longer than what is looked at here."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["__main__", __name__])
    return context


def kill_at_random(
    program: Program, place: Path, rng: random.Random, check: Callable[[Path, int], None]
) -> int:
    """Run a program in a process of its own that tells where it begins and then every confirmed
    step, kill it within 60 ms of its first word, and check the place with the last confirmed
    step; return that step."""
    context = _processes()
    hear, tell = context.Pipe(duplex=False)
    process = context.Process(target=program, args=(place, tell))
    process.start()
    tell.close()
    with hear:
        confirmed = int(hear.recv())
        time.sleep(rng.random() * 0.06)
        process.kill()
        process.join()
        assert process.exitcode == -signal.SIGKILL, "it ended before it was killed"
        while True:
            try:
                confirmed = int(hear.recv())
            except (EOFError, OSError):  # nothing more, or a word that was cut short
                break
    process.close()
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
            last["project"] = kill_at_random(_keep_projects, place, rng, check_project)
            stash = Path(folder) / "stash.sqlite"
            last["stash"] = kill_at_random(_keep_stash, stash, rng, check_stash)
            with tempfile.TemporaryDirectory() as fresh:
                out = Path(fresh) / "out"
                last["sheets"] = kill_at_random(_write_sheets, out, rng, check_sheets)
    return last


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(json.dumps({"kills of each": count, "last confirmed": run(count, 1)}))
