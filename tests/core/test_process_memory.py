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
    PAGE_ENVIRONMENT,
    WORKER_ENVIRONMENT,
    freeze_modules,
    make_worker_environment,
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
    assert heaps(WORKER_ENVIRONMENT) == 0
    assert heaps(PAGE_ENVIRONMENT) <= 1 < heaps({})


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
    assert among_the_small(PAGE_ENVIRONMENT) == "False"


def test_what_goes_through_a_clip_does_not_get_the_pages_surroundings(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in PAGE_ENVIRONMENT.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("SOMETHING_ELSE", "kept")
    found = make_worker_environment(WORKER_ENVIRONMENT)
    assert "MALLOC_MMAP_THRESHOLD_" not in found
    assert found["MALLOC_ARENA_MAX"] == WORKER_ENVIRONMENT["MALLOC_ARENA_MAX"]
    assert found["SOMETHING_ELSE"] == "kept"


def test_memory_is_given_back_once_a_minute_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    now = 1000.0
    monkeypatch.setattr(process_memory, "_next_s", 0.0)
    monkeypatch.setattr(process_memory.time, "monotonic", lambda: now)
    assert process_memory.release_memory_periodically()
    assert not process_memory.release_memory_periodically()
    now += 61.0
    assert process_memory.release_memory_periodically()


@pytest.mark.skipif(not GNU, reason="needs the GNU C library")
def test_what_lies_free_between_what_stays_goes_back() -> None:
    """Every second piece of 60 MB freed: the heap cannot shrink from its end, and is given back page by page."""
    code = """
from formcheck.core.process_memory import release_memory_periodically
def resident_mb():
    return int(open("/proc/self/statm").read().split()[1]) * 4096 / 1e6
pieces = [bytes(30_000) for _ in range(2000)]
del pieces[::2]
before = resident_mb()
release_memory_periodically()
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

    monkeypatch.setattr(process_memory, "_frozen_count", 0)
    frozen = gc.get_freeze_count()
    freeze_modules()
    assert gc.get_freeze_count() > frozen + 1000
    # What comes later is collected as ever, however often it is called.
    (later,) = left([Knot()])
    freeze_modules()
    gc.collect()
    assert later() is None  # type: ignore[operator]
    counted = gc.get_freeze_count()
    held = [Knot() for _ in range(3)]
    freeze_modules()
    assert gc.get_freeze_count() <= counted
    for number in range(100):
        monkeypatch.setitem(sys.modules, f"made_up_{number}", sys)
    freeze_modules()
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
    assert PAGE_ENVIRONMENT.items() <= seen.items()
    for name, value in PAGE_ENVIRONMENT.items():
        assert f'"{name}": "{value}"' in (root / "start.py").read_text(encoding="utf-8")
