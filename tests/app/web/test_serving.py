"""How the pages are served."""

import platform
import subprocess
import sys

import pytest

from app.web.serving import MOST_HEAPS

_HEAPS = """
import ctypes, sys, threading
from app.web.serving import bound_heaps
if sys.argv[1] == "bound":
    bound_heaps()
gate = threading.Barrier(12)
c = ctypes.CDLL(None)
c.malloc.restype = ctypes.c_void_p
def take():
    gate.wait()
    kept = [c.malloc(ctypes.c_size_t(1000)) for _ in range(100)]
    gate.wait()
threads = [threading.Thread(target=take) for _ in range(12)]
[thread.start() for thread in threads]
[thread.join() for thread in threads]
c.fopen.restype = ctypes.c_void_p
c.malloc_info.argtypes = (ctypes.c_int, ctypes.c_void_p)
c.fclose.argtypes = (ctypes.c_void_p,)
file = c.fopen(sys.argv[2].encode(), b"w")
c.malloc_info(0, file)
c.fclose(file)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="heaps of threads are glibc's")
def test_threads_share_heaps(tmp_path):
    found = {}
    for how in ("bound", "free"):
        path = tmp_path / how
        subprocess.run([sys.executable, "-c", _HEAPS, how, str(path)], check=True, timeout=60)
        found[how] = path.read_text(encoding="utf-8").count("<heap nr=")
    assert found["bound"] <= MOST_HEAPS
    assert found["free"] > MOST_HEAPS, "else this shows nothing"
