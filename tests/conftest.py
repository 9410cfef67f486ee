"""What every test shares: an own data folder, and property tests that are the same on every run of a check."""

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parent.parent

# No deadline: these machines are shared, and how long one example takes says nothing about the code.
settings.register_profile("own", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("check", settings.get_profile("own"), derandomize=True, print_blob=True)
settings.load_profile("check" if os.environ.get("CI") else "own")

# A shell lets what it runs in the background ignore Ctrl-C, and what the tests start and stop would inherit that.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and threading.current_thread() is threading.main_thread():
    signal.signal(signal.SIGINT, signal.default_int_handler)

LONGEST = [
    "safety/test_outside.py",
    "web/test_handing_over_browser.py",
    "batch/test_workers.py",
    "test_house.py",
    "web/test_new_clips.py",
    "web/test_every_page.py",
    "pose/test_chunks.py",
    "cli/test_command.py",
    "web/test_reading.py",
    "web/test_training_browser.py",
    "web/test_filming.py",
    "web/test_browser.py",
    "test_recipes.py",
    "test_shelf.py",
    "recognition/test_movement_match.py",
    "services/test_export_and_delete.py",
    "demo/test_story.py",
    "cli/test_training.py",
    "pose/test_estimator.py",
]
"""The files that take longest, the longest first. `start.py test` hands the files to its processes in this order: begun
last, one of them would keep one core at work long after the others are done."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest files first, everything else as it was; a browser test that waited in vain is tried once more.

    A busy machine may miss a moment of a browser. What fails twice fails, and the summary names what was tried again.
    """
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.flaky(reruns=1, only_rerun=["TimeoutError"]))
    place = {ROOT / "tests" / name: at for at, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


@pytest.fixture(autouse=True)
def formcheck_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty data folder of the test's own, so that no test sees or harms the user's reviews."""
    home = tmp_path / "formcheck-home"
    home.mkdir()
    monkeypatch.setenv("FORMCHECK_HOME", str(home))
    return home


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the test's store is."""
    return tmp_path / "reviews.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Any]:
    """An empty store of the test's own."""
    from formcheck.storage import Store

    with Store.open(path) as opened:
        yield opened


@pytest.fixture
def in_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Clips are tracked in this process: the test's pose model cannot be sent to another, or it counts its pictures."""
    from tests.in_process import InProcessPool

    monkeypatch.setattr("formcheck.sandbox.sandboxed_tracking.WorkerPool", InProcessPool)


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the project."""
    return ROOT


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One browser for all tests that drive one: its driver runs in this process once at most."""
    from tests.web.browser_kit import opened_browser

    with opened_browser() as opened:
        yield opened
