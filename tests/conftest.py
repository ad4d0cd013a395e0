"""Settings of all tests."""

import os
from collections.abc import Iterator
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings

if "PYTEST_XDIST_WORKER" in os.environ:
    # Each core has a worker; threads of its own would only wait for the others'. Read by OpenCV and
    # NumPy when they are first imported, here and in the programs that tests start.
    os.environ.setdefault("OPENCV_FOR_THREADS_NUM", "1")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# How long an example takes tells of the machine's other work, not of the code.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(autouse=True, scope="session")
def _data_folder_of_nobody() -> Iterator[None]:
    """The programs that tests start keep nothing in the folders of the person who runs them, and
    find nothing there."""
    with (
        TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setenv("XDG_DATA_HOME", folder)
        yield
