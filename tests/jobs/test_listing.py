"""Jobs as lists: what is in line comes first however long the line is, and what is long over goes."""

import json
import os
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.jobs import queue
from formcheck.jobs.listing import KEPT_S, clear_old_jobs, jobs_in_line, newest_jobs
from formcheck.jobs.queue import (
    JobRequest,
    JobStatus,
    jobs_folder,
    next_in_line,
    read_status,
    start_job,
    waiting_line,
    write_status,
)
from formcheck.storage import Store
from formcheck.storage.client_files import PUT_AWAY
from formcheck.storage.data_folder import default_store
from formcheck.web import layout
from formcheck.web.review import start, work_list
from formcheck.web.review.chosen_clips import ready_clips
from formcheck.web.review.work_list import reviews_at_work
from tests.web.test_pages import said

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto")
NOW = 1_800_000_000.0


def job_of(home: Path, request: JobRequest, status: JobStatus, ended: float, *marks: str) -> Path:
    """A job as its worker left it at the time `ended`."""
    folder = jobs_folder(home) / f"{request.key()}-1"
    folder.mkdir(parents=True)
    (folder / "request.json").write_text(json.dumps(asdict(request)))
    (folder / "status.json").write_text(json.dumps(asdict(replace(status, written_at=ended))))
    for name in (*marks, "claim", "worker.log"):
        (folder / name).touch()
    for path in folder.iterdir():
        os.utime(path, (ended, ended))
    return folder


def test_of_forty_sets_the_one_worked_on_is_shown_first(formcheck_home: Path, launched: list[Path]) -> None:
    asked = [start_job(formcheck_home, replace(REQUEST, clip_name=f"{number}.mp4")) for number in range(40)]
    assert [name for name, *_ in jobs_in_line(formcheck_home)] == asked
    shown = [name for name, *_ in reviews_at_work(NOW)]
    assert shown == asked[: len(shown)]
    assert len(shown) == work_list._SHOWN
    write_status(launched[0], JobStatus("done", review_id=1))
    next_in_line(formcheck_home)
    name, _, status = reviews_at_work(NOW)[0]
    assert (name, status.state) == (asked[1], "waiting")


def test_a_failed_review_is_shown_until_it_is_put_away_and_one_done_for_a_day_and_a_half(formcheck_home: Path) -> None:
    failed = job_of(formcheck_home, REQUEST, JobStatus("failed", problem="One sentence."), NOW - 30 * 86400)
    job_of(formcheck_home, replace(REQUEST, clip_name="b"), JobStatus("done", review_id=1), NOW - 2 * 86400)
    late = job_of(formcheck_home, replace(REQUEST, clip_name="c"), JobStatus("done", review_id=2), NOW - 86400)
    job_of(formcheck_home, replace(REQUEST, clip_name="d"), JobStatus("failed"), NOW - 60, PUT_AWAY)
    assert [name for name, *_ in reviews_at_work(NOW)] == [late.name, failed.name]


def test_what_failed_long_ago_is_not_called_just_reviewed(
    formcheck_home: Path, open_page: Callable[..., AppTest]
) -> None:
    job_of(formcheck_home, REQUEST, JobStatus("failed", problem="One sentence."), NOW - 900 * 86400)
    page = open_page()
    assert "Could not be reviewed" in said(page)
    assert "not reviewed: One sentence." in said(page)
    assert "Just reviewed" not in said(page)


def test_a_clip_lies_ready_however_much_was_asked_for_since(formcheck_home: Path, tmp_path: Path) -> None:
    clip = tmp_path / "set.mp4"
    clip.touch()
    look = JobRequest(str(clip), "set.mp4", "", "auto", kind="look")
    job_of(formcheck_home, look, JobStatus("done"), NOW - 86400)
    for number in range(400):
        job_of(formcheck_home, replace(REQUEST, clip_name=str(number)), JobStatus("done", review_id=1), NOW - number)
    assert [ready.path for ready, _ in ready_clips()] == [clip]
    assert [request.clip_name for _, request, _ in newest_jobs(formcheck_home, limit=3)] == ["0", "1", "2"]


def test_of_more_clips_than_are_filled_in_at_a_time_the_page_says_how_many_are_to_come(
    formcheck_home: Path, open_page: Callable[..., AppTest], tmp_path: Path
) -> None:
    most = start._MOST_CLIPS
    for number in range(most + 2):
        clip = tmp_path / f"{number}.mp4"
        clip.touch()
        look = JobRequest(str(clip), clip.name, "", "auto", kind="look")
        job_of(formcheck_home, look, JobStatus("done"), NOW - 900 * 86400 + number)
    page = open_page()
    assert [item.value for item in page.success] == [
        f"{layout.escape_markdown(f'{n}.mp4')} is ready." for n in range(2, most + 2)
    ]
    assert "Still to come: 2 clips." in said(page)


def test_asked_again_a_job_that_never_got_into_line_stands_there_once(
    formcheck_home: Path, launched: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(queue, "_stand_in_line", lambda home, job: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):  # ended in the moment between
            start_job(formcheck_home, REQUEST)
    assert waiting_line(formcheck_home) == []
    job = start_job(formcheck_home, REQUEST)
    queue._stand_in_line(formcheck_home, job)  # another tab did the same
    assert waiting_line(formcheck_home) == [job]
    assert [name for name, *_ in jobs_in_line(formcheck_home)] == [job]
    assert [folder.name for folder in launched] == [job]


def test_long_over_and_asked_for_by_nothing_is_taken_away(
    formcheck_home: Path, store_review: Callable[..., int], tmp_path: Path
) -> None:
    number = store_review()
    clip = tmp_path / "set.mp4"
    clip.touch()
    look = JobRequest(str(clip), "set.mp4", "", "auto", kind="look")
    done, failed = JobStatus("done", review_id=number), JobStatus("failed", problem="One sentence.")
    old, young = NOW - KEPT_S - 1, NOW - KEPT_S + 60

    def named(name: str, request: JobRequest = REQUEST) -> JobRequest:
        return replace(request, clip_name=name)

    going = [
        job_of(formcheck_home, named("done"), done, old),
        job_of(formcheck_home, named("failed, put away"), failed, old, PUT_AWAY),
        job_of(formcheck_home, named("film", replace(REQUEST, kind="film", review_id=number)), failed, old),
        job_of(formcheck_home, named("test clip", replace(REQUEST, kind="placement")), JobStatus("done"), old),
        job_of(formcheck_home, named("put away", look), JobStatus("done"), old, PUT_AWAY),
        job_of(formcheck_home, named("gone", replace(look, clip_path="gone")), JobStatus("done"), old),
        job_of(formcheck_home, named("half deleted"), done, old),
    ]
    (going[-1] / "request.json").unlink()
    (going[0] / "drawn").mkdir()
    (going[0] / "drawn" / "report.html").touch()
    staying = [
        job_of(formcheck_home, named("young"), done, young),
        job_of(formcheck_home, named("failed"), failed, old),
        job_of(formcheck_home, named("elsewhere"), JobStatus("done", review_id=number + 1), old),
        job_of(formcheck_home, named("lies ready", look), JobStatus("done"), old),
        job_of(formcheck_home, named("under way"), JobStatus("working"), old),
    ]
    with Store.open(default_store()) as store:
        assert clear_old_jobs(formcheck_home, store, NOW) == len(going)
        assert clear_old_jobs(formcheck_home, store, NOW) == 0
    assert set(jobs_folder(formcheck_home).iterdir()) == set(staying)


def test_taken_away_half_it_is_taken_away_whole_the_next_time(
    formcheck_home: Path, store_review: Callable[..., int], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = job_of(formcheck_home, REQUEST, JobStatus("done", review_id=store_review()), NOW - 2 * KEPT_S)
    with Store.open(default_store()) as store:
        with monkeypatch.context() as patch:
            patch.setattr("formcheck.jobs.listing.shutil.rmtree", lambda path: (_ for _ in ()).throw(OSError))
            assert clear_old_jobs(formcheck_home, store, NOW) == 0
        assert {path.name for path in folder.iterdir()} == {"status.json"}
        assert clear_old_jobs(formcheck_home, store, NOW) == 1
    assert not folder.exists()


def test_a_number_is_not_given_out_twice_after_earlier_ones_went(formcheck_home: Path, launched: list[Path]) -> None:
    folders = []
    for _ in range(3):
        folders.append(jobs_folder(formcheck_home) / start_job(formcheck_home, REQUEST))
        write_status(folders[-1], JobStatus("done", review_id=1))
    for path in [*folders[0].iterdir(), folders[0]]:
        path.rmdir() if path.is_dir() else path.unlink()
    job = start_job(formcheck_home, REQUEST)
    assert job == f"{REQUEST.key()}-4"
    assert read_status(jobs_folder(formcheck_home) / job).state != "done"


def test_a_worker_that_ends_takes_the_old_ones_away(formcheck_home: Path, launched: list[Path]) -> None:
    from formcheck.jobs import worker

    bad = formcheck_home / "0a1b"
    bad.write_text("not a clip")
    job_of(formcheck_home, replace(REQUEST, clip_name="old"), JobStatus("failed"), 1.0, PUT_AWAY)
    start_job(formcheck_home, JobRequest(str(bad), "one.mov", "lateral-raise", "auto"))
    assert worker.main([str(launched[0])]) == 1
    assert [path for path in jobs_folder(formcheck_home).iterdir() if path.name != ".line"] == launched
