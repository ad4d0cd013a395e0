"""How the pages are served."""

import platform
import re
import subprocess
import sys

import pytest

from app.web.serving import MOST_HEAPS, OWN_ROOM_BYTES

_ASKED = """
import ctypes, sys, threading
from app.web.serving import OWN_ROOM_BYTES, hold_little_memory
if sys.argv[1] == "held":
    hold_little_memory()
c = ctypes.CDLL(None)
c.malloc.restype = ctypes.c_void_p
c.free.argtypes = (ctypes.c_void_p,)
def of_threads():
    gate = threading.Barrier(12)
    def take():
        gate.wait()
        kept = [c.malloc(ctypes.c_size_t(1000)) for _ in range(100)]
        gate.wait()
    threads = [threading.Thread(target=take) for _ in range(12)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
def of_pictures():
    c.free(c.malloc(ctypes.c_size_t(16 * OWN_ROOM_BYTES)))
    c.malloc(ctypes.c_size_t(8 * OWN_ROOM_BYTES))
{"threads": of_threads, "pictures": of_pictures}[sys.argv[2]]()
c.fopen.restype = ctypes.c_void_p
c.malloc_info.argtypes = (ctypes.c_int, ctypes.c_void_p)
c.fclose.argtypes = (ctypes.c_void_p,)
file = c.fopen(sys.argv[3].encode(), b"w")
c.malloc_info(0, file)
c.fclose(file)
"""
pytestmark = pytest.mark.skipif(
    platform.libc_ver()[0] != "glibc", reason="what is asked of the C library is glibc's"
)


def told(tmp_path, how, what):
    """What the C library says of its memory once threads or pictures have taken theirs."""
    path = tmp_path / how
    words = [sys.executable, "-c", _ASKED, how, what, str(path)]
    subprocess.run(words, check=True, timeout=60)
    return path.read_text(encoding="utf-8")


def test_threads_share_heaps(tmp_path):
    found = {how: told(tmp_path, how, "threads").count("<heap nr=") for how in ("held", "free")}
    assert found["held"] <= MOST_HEAPS
    assert found["free"] > MOST_HEAPS, "else this shows nothing"


def test_pictures_have_room_of_their_own_however_large_they_were_before(tmp_path):
    found = {
        how: int(
            re.findall(r'type="mmap" count="\d+" size="(\d+)"', told(tmp_path, how, "pictures"))[0]
        )
        for how in ("held", "free")
    }
    assert found["held"] >= 8 * OWN_ROOM_BYTES
    assert found["free"] < 8 * OWN_ROOM_BYTES, "else this shows nothing"
