"""Jobs an earlier program left in folders: what waits or lies ready is taken into the table, the rest is let go.

The folders here are written as that program wrote them: `request.json`, `status.json`, marker files, and a line of
empty files whose names begin with the moment they were asked for.
"""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from formcheck.jobs import earlier_folders
from formcheck.jobs.queue import JobStatus, find_job, newest_jobs, next_in_line, start_job
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.storage.jobs import Jobs
from formcheck.web.review.chosen_clips import list_ready_clips
from formcheck.web.review.work_list import list_reviews_at_work
from tests.jobs.rows import line, set_status, status_of

LOOK = (
    '{"ranked": [["squat", 0.91]], "sure": true, "view": "left", "reasons": ["knees"], "problem": "", "usable": true}'
)


class EarlierFolders:
    """The folder of jobs as an earlier program left it."""

    def __init__(self, home: Path) -> None:
        self.home, self.made = home, 0

    def job(self, *files: str, waits_since_ns: int | None = None, state: str = "queued", **asked: object) -> str:
        """One job; `files` are its marker files."""
        self.made += 1
        name = f"{self.made:020x}-1"
        folder = self.home / "jobs" / name
        folder.mkdir(parents=True)
        request = {
            "clip_path": f"clip {self.made}", "clip_name": f"{self.made}.mp4", "exercise": "squat", "view": "auto",
            "load_kg": 7.5, "target_reps": None, "review_id": None, "kind": "review", "client": "Ada",
            "session_on": "2026-11-25", "second_path": None, "second_name": None, "blur_faces": False, **asked,
        }  # fmt: skip
        status = {
            "state": state, "stage": "Starting", "share": 0.0, "seconds_left": None, "spent_s": None, "review_id": None,
            "problem": "One sentence." if state == "failed" else None, "written_at": 1_750_000_000.5,
        }  # fmt: skip
        (folder / "request.json").write_text(json.dumps(request))
        (folder / "status.json").write_text(json.dumps(status))
        for file in (*files, "claim", "launched", "started", "begun", "taken-up-1750000000500-1", "worker.log"):
            (folder / file).touch()
        if waits_since_ns is not None:
            (self.home / "jobs" / ".line").mkdir(exist_ok=True)
            (self.home / "jobs" / ".line" / f"{waits_since_ns:020d}.{name}").touch()
        return name


@pytest.fixture
def earlier(formcheck_home: Path, monkeypatch: pytest.MonkeyPatch) -> EarlierFolders:
    monkeypatch.setattr(earlier_folders, "_taken", set())
    return EarlierFolders(formcheck_home)


def test_what_waits_is_taken_in_in_its_order(
    earlier: EarlierFolders, launched: list[str], formcheck_home: Path
) -> None:
    third = earlier.job(waits_since_ns=3_000)
    first = earlier.job(waits_since_ns=1_000, state="working")
    second = earlier.job(waits_since_ns=2_000, kind="look", exercise="", client=None)
    assert line() == [first, second, third]
    assert {status_of(name).state for name in (first, second, third)} == {"queued"}
    job = find_job(third)
    assert job is not None
    assert (job.request.load_kg, job.request.client, job.request.session_on) == (7.5, "Ada", "2026-11-25")
    next_in_line()
    assert launched == [first]
    assert [path for path in (formcheck_home / "jobs").rglob("*") if path.is_file()] == []


def test_what_lies_ready_and_what_failed_is_taken_in_and_what_is_over_is_let_go(
    earlier: EarlierFolders, tmp_path: Path, formcheck_home: Path
) -> None:
    clips = [tmp_path / f"{number}.mp4" for number in (1, 2)]
    for clip in clips:
        clip.touch()
    ready = earlier.job(kind="look", state="done", clip_path=str(clips[0]), client=None)
    (formcheck_home / "jobs" / ready / "look.json").write_text(LOOK)
    failed = earlier.job(state="failed")
    for put_away in (
        {"kind": "look", "state": "done", "clip_path": str(clips[1])},
        {"state": "failed"},
    ):
        earlier.job("put-away", **put_away)  # type: ignore[arg-type]
    earlier.job(kind="look", state="done", clip_path="gone")
    earlier.job(state="done")
    earlier.job(kind="placement", state="failed")
    names = {job.name for job in newest_jobs()}
    assert names == {ready, failed}
    (clip,) = list_ready_clips()
    assert clip.job is not None
    assert (clip.path, clip.job.status.state) == (clips[0], "done")
    assert clip.suggestion is not None
    assert (clip.suggestion.ranked, clip.suggestion.view) == ((("squat", 0.91),), "left")
    (shown,) = list_reviews_at_work(1_750_000_000.0)
    assert (shown.name, shown.status.problem) == (failed, "One sentence.")
    assert shown.status.heartbeat_at == 1_750_000_000.5
    assert list((formcheck_home / "jobs").iterdir()) == []


def test_a_drawing_of_a_review_that_is_not_in_this_store_is_left_out(
    earlier: EarlierFolders, launched: list[str], store_review: Callable[..., int]
) -> None:
    number = store_review()
    here = earlier.job(kind="film", review_id=number)
    earlier.job(kind="film", review_id=number + 1)
    assert [job.name for job in newest_jobs()] == [here]


def test_killed_on_the_way_it_is_done_the_next_time_and_once(
    earlier: EarlierFolders, launched: list[str], formcheck_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    name = earlier.job(waits_since_ns=1)
    for step, target in ((Jobs, "take_over_jobs"), (earlier_folders.shutil, "rmtree")):
        with monkeypatch.context() as patch:
            patch.setattr(step, target, killed)
            with pytest.raises(KeyboardInterrupt):
                newest_jobs()
        assert (formcheck_home / "jobs" / name / "request.json").is_file()
    assert line() == [name]
    set_status(name, JobStatus("done"))
    monkeypatch.setattr(earlier_folders, "_taken", set())
    assert line() == []
    assert len(newest_jobs()) == 1


def test_damaged_folders_harm_nothing(earlier: EarlierFolders, launched: list[str], formcheck_home: Path) -> None:
    for text in ("", "{", "[]", '{"clip_path": "x", "unknown": 1}', "7"):
        folder = formcheck_home / "jobs" / earlier.job()
        (folder / "request.json").write_text(text)
    odd = earlier.job(waits_since_ns=5)
    (formcheck_home / "jobs" / odd / "status.json").write_bytes(b"\xff\xfe")
    (formcheck_home / "jobs" / "not a job").mkdir()
    (formcheck_home / "jobs" / "not a job" / "request.json").write_text("{}")
    assert line() == [odd]
    assert [path.name for path in (formcheck_home / "jobs").iterdir()] == ["not a job"]


def test_the_next_number_follows_the_one_taken_in(
    earlier: EarlierFolders, launched: list[str], formcheck_home: Path
) -> None:
    """The same work asked for again joins the job of the earlier program."""
    from formcheck.jobs.queue import JobRequest

    request = JobRequest("clip", "set.mp4", "squat", "auto")
    name = earlier.job(
        waits_since_ns=1, clip_path="clip", clip_name="set.mp4", client=None, session_on=None, load_kg=None
    )
    (formcheck_home / "jobs" / name).rename(formcheck_home / "jobs" / f"{request.key()}-3")
    assert start_job(request) == f"{request.key()}-3"
    with Store.open(default_store()) as store:
        assert len(store.list_jobs()) == 1
