"""The C library is asked to keep few heaps; what a process holds is what Linux says of it (/proc)."""

import gc
import os
import subprocess
import sys
import weakref
from collections.abc import Mapping
from pathlib import Path

import pytest

from formcheck.core import process_memory
from formcheck.core.process_memory import (
    FOR_CHILDREN,
    FOR_THE_PAGE,
    set_modules_aside,
    surroundings_for_work,
)

GNU = sys.platform.startswith("linux") and any(Path("/lib").rglob("ld-linux*.so*"))

HEAPS = """
import threading
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
def test_threads_share_the_heaps() -> None:
    def heaps(surroundings: Mapping[str, str]) -> int:
        plain = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
        command = [sys.executable, "-c", HEAPS]
        done = subprocess.run(command, env={**plain, **surroundings}, capture_output=True, text=True, check=True)
        return int(done.stdout)

    # The main heap is none of those counted.
    assert heaps(FOR_CHILDREN) == 0
    assert heaps(FOR_THE_PAGE) <= 1 < heaps({})


LARGE = """
bytes(8_000_000)  # freed at once: from now on the library would put blocks up to that size among the small ones
block = bytes(1_000_000)
heap = next(line.split()[0] for line in open("/proc/self/maps") if line.rstrip().endswith("[heap]"))
begin, end = (int(part, 16) for part in heap.split("-"))
print(begin <= id(block) < end)
"""


@pytest.mark.skipif(not GNU, reason="needs the GNU C library")
def test_large_blocks_stand_apart_on_the_page() -> None:
    def among_the_small(surroundings: Mapping[str, str]) -> str:
        plain = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
        command = [sys.executable, "-c", LARGE]
        return subprocess.run(
            command, env={**plain, **surroundings}, capture_output=True, text=True, check=True
        ).stdout.strip()

    assert among_the_small({}) == "True"
    assert among_the_small(FOR_THE_PAGE) == "False"


def test_what_goes_through_a_clip_does_not_get_the_pages_surroundings(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in FOR_THE_PAGE.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("SOMETHING_ELSE", "kept")
    found = surroundings_for_work(FOR_CHILDREN)
    assert "MALLOC_MMAP_THRESHOLD_" not in found
    assert found["MALLOC_ARENA_MAX"] == FOR_CHILDREN["MALLOC_ARENA_MAX"]
    assert found["SOMETHING_ELSE"] == "kept"


def test_memory_is_given_back_once_a_minute_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    now = 1000.0
    monkeypatch.setattr(process_memory, "_next_s", 0.0)
    monkeypatch.setattr(process_memory.time, "monotonic", lambda: now)
    assert process_memory.give_memory_back_now_and_then()
    assert not process_memory.give_memory_back_now_and_then()
    now += 61.0
    assert process_memory.give_memory_back_now_and_then()


@pytest.mark.skipif(not GNU, reason="needs the GNU C library")
def test_what_lies_free_between_what_stays_goes_back() -> None:
    """Every second piece of 60 MB freed: the heap cannot shrink from its end, and is given back page by page."""
    code = """
from formcheck.core.process_memory import give_memory_back_now_and_then
def resident_mb():
    return int(open("/proc/self/statm").read().split()[1]) * 4096 / 1e6
pieces = [bytes(30_000) for _ in range(2000)]
del pieces[::2]
before = resident_mb()
give_memory_back_now_and_then()
print(before - resident_mb())
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert float(done.stdout) > 15.0


def test_modules_are_set_aside_once_and_again_when_many_came(monkeypatch: pytest.MonkeyPatch) -> None:
    class Knot:
        pass

    def left(knots: list[Knot]) -> list[object]:
        """Tie each to itself and let go of them: weak hands on what is collected by nothing but a collection."""
        for knot in knots:
            knot.__dict__["self"] = knot
        return [weakref.ref(knot) for knot in knots]

    monkeypatch.setattr(process_memory, "_aside", 0)
    frozen = gc.get_freeze_count()
    set_modules_aside()
    assert gc.get_freeze_count() > frozen + 1000
    # What comes later is collected as ever, however often it is called.
    (later,) = left([Knot()])
    set_modules_aside()
    gc.collect()
    assert later() is None  # type: ignore[operator]
    counted = gc.get_freeze_count()
    held = [Knot() for _ in range(3)]
    set_modules_aside()
    assert gc.get_freeze_count() <= counted
    for number in range(100):
        monkeypatch.setitem(sys.modules, f"made_up_{number}", sys)
    set_modules_aside()
    assert gc.get_freeze_count() >= counted + len(held)


def test_the_page_is_started_with_few_heaps(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from click.testing import CliRunner

    from formcheck.cli import cli, serve

    seen: dict[str, str] = {}

    def run(*_: object, env: dict[str, str], **__: object) -> subprocess.CompletedProcess[bytes]:
        seen.update(env)
        return subprocess.CompletedProcess([], 0)

    monkeypatch.setattr(serve.subprocess, "run", run)
    assert CliRunner().invoke(cli, ["serve"]).exit_code == 0
    assert FOR_THE_PAGE.items() <= seen.items()
    for name, value in FOR_THE_PAGE.items():
        assert f'"{name}": "{value}"' in (root / "start.py").read_text(encoding="utf-8")
