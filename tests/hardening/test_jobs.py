"""Whole jobs with anything said and anything altered: done, or one sentence; never a fault, and
nothing is written beside the place that was named."""

import contextlib
import io
import random
import shutil
import signal
from collections.abc import Iterator
from typing import NoReturn

import pytest

from app.cli import main
from tests.hardening import amount
from tests.hardening.jobs import Kitchen

JOBS = {"stack": 25, "cut": 20, "measure": 30, "choose": 20, "stash": 15}
MOST_SECONDS = 10.0
STEPS = {"cut": ("stack", "cut")}
MADE = {
    "stack": {"out"}, "cut": {"cut"}, "measure": {"measured.json", "over.jpg", "over.png"},
    "background": {"axis.svg", "axis"}, "compare": {"compared"},
    "shopping": {"note"}, "swap": {"swapped"},
    "stash": {"new.sqlite"},
}  # fmt: skip


def run(words: list[str]) -> tuple[int, str, str]:
    """The exit code of a command and what it said on standard error and standard output; what is
    no answer is raised as it came."""
    said, told = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(said):
        return main(words), said.getvalue(), told.getvalue()


@pytest.fixture
def kitchen(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BUNDLESTACKS_DEBUG", "1")
    return Kitchen(tmp_path, random.Random(0))


@contextlib.contextmanager
def within(seconds: float) -> Iterator[None]:
    """Raise what is no answer once so much of the processor was used."""

    def stop(*_: object) -> NoReturn:
        raise AssertionError(f"more than {seconds:g} s of the processor")

    signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no clock of the processor here")
@pytest.mark.usefixtures("small_quilts")
@pytest.mark.parametrize("job", JOBS)
def test_a_job_is_done_or_refused_in_one_sentence(job, kitchen):
    for words in kitchen.first():
        assert run(words)[:2] == (0, "")
    kept = set(kitchen.folder.iterdir()) | {kitchen.folder / name for name in kitchen.LAID}
    done, count = 0, JOBS[job] * amount.TIMES
    for number in range(count):
        kitchen.rng.seed(f"{job} {amount.FIRST + number}")
        for words in (getattr(kitchen, name)() for name in STEPS.get(job, (job,))):
            what = f"case {number} from {amount.FIRST}: {words}"
            before = set(kitchen.folder.iterdir())
            try:
                with within(MOST_SECONDS):
                    code, said, told = run(words)
            except Exception as fault:
                raise AssertionError(what) from fault
            new = {path.name for path in set(kitchen.folder.iterdir()) - before}
            # What SQLite lays beside a file of its own.
            made = {name for name in new if not name.endswith(("-wal", "-shm"))}
            assert made <= MADE[words[0]], what
            assert code in (0, 2), (what, said)
            if code == 2 and words[0] == "stash" and not said:
                assert "1 photo skipped" in told, what
            elif code == 2:
                assert said.startswith("bundlestacks: "), what
                assert said.count("\n") == 1, (what, said)
                assert len(said) < 3000, (what, said)
                assert not made or words[0] == "stash", what
        done += code == 0
        for path in set(kitchen.folder.iterdir()) - kept:
            if path.is_dir():
                shutil.rmtree(path)
            else:
                path.unlink()
    assert count // 10 < done < count
