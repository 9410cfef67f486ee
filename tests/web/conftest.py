"""A stored review with everything the page needs, made without a pose model."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.core.model import Analysis
from formcheck.jobs import queue
from formcheck.pose.recording import save_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from tests.excerpt import excerpt, smaller
from tests.web.browser_kit import CLIPS, served
from tests.web.synthetic import synthetic_analysis, synthetic_recording

ROOT = Path(__file__).resolve().parents[2]
SIDE, FRONT = "lateral_raise_side_swing", "overhead_raise_front_stops_at_shoulder"


@pytest.fixture
def launched(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the jobs that would have been started; no process is."""
    started: list[str] = []
    monkeypatch.setattr(queue, "_launch", lambda store, job: started.append(job.name))
    return started


@pytest.fixture
def store_review(formcheck_home: Path) -> Callable[..., int]:
    """Stores an analysis and, unless told not to, its drawn files."""

    def store(analysis: Analysis | None = None, *, drawn: bool = True, clip_path: Path | None = None) -> int:
        analysis = analysis or synthetic_analysis()
        with Store.open(default_store()) as opened:
            made = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
            number = opened.save_review(analysis.review, created_at=made, clip_path=clip_path)
        if drawn:
            files = DataFolder(formcheck_home).artifacts(number)
            files.folder.mkdir(parents=True)
            files.overlay.write_bytes(b"not looked at by these tests")
            files.report.write_text("<!DOCTYPE html>", encoding="utf-8")
            files.pictures_file.write_text(json.dumps({1: "data:image/jpeg;base64,AAAA"}), encoding="utf-8")
            save_recording(synthetic_recording(analysis), files.recording)
        return number

    return store


@pytest.fixture
def open_page(formcheck_home: Path) -> Callable[..., AppTest]:
    """Opens the page at an address and runs it once."""

    def open_at(**query: str) -> AppTest:
        page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
        for name, value in query.items():
            page.query_params[name] = value
        return page.run()

    return open_at


@pytest.fixture(scope="session")
def demo_clips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two shipped clips, under their names: three reps of the one from the side, five of the one
    from the front in half of its pictures."""
    return once_a_run(tmp_path_factory, "demo-clips", _cut_the_clips)


@pytest.fixture(scope="session")
def demo_home(tmp_path_factory: pytest.TempPathFactory, demo_clips: Path) -> Path:
    """A data folder in which the page's worker reviewed `demo_clips`: 1 from the side, 2 from the front.

    For looking only: no test may change what is in it. Made once a run, however many processes share the run.
    """
    made = once_a_run(tmp_path_factory, "demo-home", lambda home: _review_the_clips(home, demo_clips))
    if "PYTEST_XDIST_WORKER" not in os.environ:
        return made
    copy = tmp_path_factory.mktemp("demo") / "home"
    shutil.copytree(made, copy)
    return copy


def once_a_run(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A folder made by whichever process of the run comes first; the others wait for it."""
    top = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        top = top.parent
    folder, ready = top / name, top / f"{name}-is-ready"
    with (top / f"{name}.lock").open("a") as lock:
        if os.name != "nt":
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX)
        if not ready.exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            make(folder)
            ready.touch()
    return folder


def _cut_the_clips(folder: Path) -> None:
    excerpt(CLIPS / f"{SIDE}.mp4", folder / f"{SIDE}.mp4", 10.8)
    # Five reps: in the last the range is lost.
    start = excerpt(CLIPS / f"{FRONT}.mp4", folder / "start.mp4", 19.4)
    smaller(start, folder / f"{FRONT}.mp4", width=360, every=2)
    start.unlink()


def _review_the_clips(home: Path, clips: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from formcheck.jobs import queue, worker\n"
        "queue._launch = lambda store, job: None\n"
        "for name in sys.argv[1:]:\n"
        "    clip, exercise = name.split(':')\n"
        "    job = queue.start_job(queue.JobRequest(clip, Path(clip).name, exercise, 'auto', 6.0, 8))\n"
        "    assert worker.main([job]) == 0, queue.find_job(job)\n"
    )
    exercises = {SIDE: "lateral-raise", FRONT: "overhead-lateral-raise"}
    wanted = [f"{clips / name}.mp4:{exercise}" for name, exercise in exercises.items()]
    done = subprocess.run(
        [sys.executable, "-c", script, *wanted],
        env={**os.environ, "FORMCHECK_HOME": str(home)},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    DataFolder(home).cautions_read.touch()  # as for whoever reviews a set on the page


@pytest.fixture(scope="session")
def demo_address(demo_home: Path) -> Iterator[str]:
    """The page over `demo_home`."""
    with served(demo_home) as url:
        yield url
