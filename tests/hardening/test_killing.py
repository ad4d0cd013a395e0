"""A program killed at any moment loses nothing that it confirmed and leaves no half file."""

from tests.hardening.killing import run

KILLS = 15


def test_killed_at_any_moment():
    last = run(KILLS, seed=7)
    for what in ("project", "stash"):
        assert last[what] > KILLS // 2, "the program was killed before it did anything"
