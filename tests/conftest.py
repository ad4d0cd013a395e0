"""Settings of all tests."""

import os
import tempfile

import pytest
from hypothesis import settings

# How long an example takes tells of the machine's other work, not of the code.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(autouse=True, scope="session")
def _data_folder_of_nobody():
    """The programs that tests start keep nothing in the folders of the person who runs them, and
    find nothing there."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        before = os.environ.get("XDG_DATA_HOME")
        os.environ["XDG_DATA_HOME"] = folder
        yield
        if before is None:
            del os.environ["XDG_DATA_HOME"]
        else:
            os.environ["XDG_DATA_HOME"] = before
