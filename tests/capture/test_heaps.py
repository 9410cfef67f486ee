"""The C library is asked to keep few heaps; what a process holds is what Linux says of it (/proc)."""

import subprocess
import sys
from pathlib import Path

import pytest

from formcheck.capture.heaps import FOR_CHILDREN, few_heaps, give_memory_back

GNU = sys.platform.startswith("linux") and any(Path("/lib").rglob("ld-linux*.so*"))

HEAPS = """
import sys, threading
from formcheck.capture.heaps import few_heaps, give_memory_back
if sys.argv[1] == "few":
    assert few_heaps()
gate = threading.Barrier(9)
def work():
    kept = [bytes(3000) for _ in range(500)]  # too large for Python's own small blocks
    gate.wait()
    gate.wait()
threads = [threading.Thread(target=work) for _ in range(8)]
for thread in threads:
    thread.start()
gate.wait()
# A heap of a thread begins at a multiple of 64 MB and has no name (malloc/arena.c).
starts = [line.split("-")[0] for line in open("/proc/self/maps") if len(line.split()) == 5]
print(sum(int(start, 16) % (64 << 20) == 0 for start in starts))
gate.wait()
"""


@pytest.mark.skipif(not GNU, reason="needs the GNU C library")
def test_threads_share_two_heaps() -> None:
    heaps = {}
    for how in ("few", "many"):
        done = subprocess.run([sys.executable, "-c", HEAPS, how], capture_output=True, text=True, check=True)
        heaps[how] = int(done.stdout)
    assert heaps["few"] <= 2 < heaps["many"]


@pytest.mark.skipif(not GNU, reason="needs the GNU C library")
def test_it_is_taken_here() -> None:
    assert few_heaps()
    give_memory_back()
    assert FOR_CHILDREN == {"MALLOC_ARENA_MAX": "1"}
