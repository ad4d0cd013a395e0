"""Tests that share what is slow to make run on one worker."""

import os

import pytest


@pytest.mark.skipif("PYTEST_XDIST_WORKER" not in os.environ, reason="one worker shares everything")
def test_the_tests_of_a_file_stay_together(request: pytest.FixtureRequest) -> None:
    # Where a test belongs is told behind its name; without it any worker may take it.
    assert request.node.nodeid.endswith("@tests/test_sharing.py")
