"""Long work that many ask for at once: never too much of it, and nobody waits for ever."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest

from app.web.memory import Memory
from app.web.turns import Turns
from app.web.workshop import AT_ONCE, Workshop
from colorcore.project import ProjectPhoto

#: What has not ended by then waits for something that does not come, seconds.
FOR_EVER = 20


class _Counting:
    """Counts how many work at the same time."""

    def __init__(self) -> None:
        self.now, self.most = 0, 0
        self._guard = threading.Lock()

    def work(self) -> None:
        with self._guard:
            self.now += 1
            self.most = max(self.most, self.now)
        time.sleep(0.02)
        with self._guard:
            self.now -= 1


@pytest.mark.parametrize("at_once", [1, 3])
def test_no_more_than_so_many_work_at_once_and_all_get_their_turn(at_once):
    memory, turns, counting = Memory(100), Turns(at_once), _Counting()
    with ThreadPoolExecutor(12) as pool:
        waiting = [pool.submit(memory.get, n, counting.work, turns) for n in range(12)]
        for one in waiting:
            one.result(FOR_EVER)
    assert counting.most == at_once
    assert len(memory) == 12


def test_work_within_work_needs_no_turn_of_its_own():
    memory, turns = Memory(100), Turns(1)

    def outer(n: int) -> str:
        # All rest on one result, and each on one of its own.
        shared = memory.get("shared", lambda: "shared", turns)
        return memory.get(("own", n), lambda: f"{shared} {n}", turns)

    with ThreadPoolExecutor(6) as pool:
        waiting = [
            pool.submit(memory.get, ("outer", n % 3), lambda n=n: outer(n % 3), turns)
            for n in range(6)
        ]
        assert [one.result(FOR_EVER) for one in waiting] == [f"shared {n % 3}" for n in range(6)]


def test_what_went_wrong_gives_its_turn_back():
    memory, turns = Memory(100), Turns(1)
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            memory.get("key", lambda: 1 // 0, turns)
    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(memory.get, "key", lambda: 7, turns).result(FOR_EVER) == 7


class _Told(Turns):
    """Turns that tell when somebody asks for one."""

    def __init__(self, at_once: int) -> None:
        super().__init__(at_once)
        self.asked = threading.Event()

    def take(self):
        self.asked.set()
        return super().take()


def test_what_was_forgotten_while_one_waited_is_made_once_and_weighed_once():
    memory, turns, counting = Memory(2, most_bytes=10_000_000), _Told(1), _Counting()
    gate, long_begun, made_begun = (threading.Event() for _ in range(3))

    def make() -> bytes:
        counting.work()
        return bytes(1_000_000)

    def long() -> bool:
        long_begun.set()
        return gate.wait(FOR_EVER)

    def make_as_the_turn_comes_free() -> bytes:
        made_begun.set()
        gate.set()
        return make()

    with ThreadPoolExecutor(3) as pool:
        pool.submit(memory.get, "long", long, turns)
        assert long_begun.wait(FOR_EVER)
        turns.asked.clear()
        waits = pool.submit(memory.get, "key", make, turns)
        assert turns.asked.wait(FOR_EVER)
        # Meanwhile it was made, and forgotten again for something newer.
        for key in ("key", "newer", "newest"):
            memory.get(key, make if key == "key" else bytes)
        assert "key" not in memory
        beside = pool.submit(memory.get, "key", make_as_the_turn_comes_free)
        assert made_begun.wait(FOR_EVER)
        same = waits.result(FOR_EVER) is beside.result(FOR_EVER)
    assert same
    assert counting.most == 1
    for key in ("one more", "and one"):
        memory.get(key, bytes)
    assert memory.kept_bytes == 0


def test_what_is_kept_is_had_while_others_hold_all_turns():
    memory, turns, gate = Memory(100), Turns(1), threading.Event()
    memory.get("kept", lambda: "kept", turns)
    with ThreadPoolExecutor(2) as pool:
        long = pool.submit(memory.get, "long", lambda: gate.wait(FOR_EVER), turns)
        try:
            assert pool.submit(memory.get, "kept", str, turns).result(FOR_EVER / 2) == "kept"
        finally:
            gate.set()
        assert long.result(FOR_EVER)


def test_the_workshop_works_out_so_many_steps_at_once(tmp_path):
    workshop, counting = Workshop(tmp_path / "p.sqlite", tmp_path / "s.sqlite"), _Counting()
    with ThreadPoolExecutor(8) as pool:
        for one in [pool.submit(workshop.remember, (n,), counting.work) for n in range(8)]:
            one.result(FOR_EVER)
    assert counting.most == AT_ONCE


def test_so_many_photos_are_measured_at_once(tmp_path, monkeypatch):
    workshop, counting = Workshop(tmp_path / "p.sqlite", tmp_path / "s.sqlite"), _Counting()
    monkeypatch.setattr("colorcore.measuring.measure_photo", lambda *_, **__: counting.work())
    monkeypatch.setattr(workshop, "photo", lambda *_: SimpleNamespace(width=4, height=3))
    with ThreadPoolExecutor(8) as pool:
        items = [ProjectPhoto(str(n), "a photo") for n in range(8)]
        for one in [pool.submit(workshop.measured, item, 10.0, 0) for item in items]:
            one.result(FOR_EVER)
    assert counting.most == AT_ONCE
