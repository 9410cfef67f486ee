"""After a look at a clip the same process makes its review, where that is next in line."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from formcheck.core.model import CameraView
from formcheck.jobs import background_tasks, queue
from formcheck.jobs.queue import Job, JobRequest, claim_review_of, find_job, open_jobs, start_job
from formcheck.recognition.suggest import Suggestion
from formcheck.services import pipeline
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.jobs import JobStatus
from tests.jobs.rows import claimed, job_of, set_status, status_of

LOOK = JobRequest("clip", "set.mp4", "", "auto", kind="look")
REVIEW = replace(LOOK, exercise="lateral-raise", kind="review")


def _end(look: str) -> Job:
    set_status(look, JobStatus("done"))
    return job_of(look)


def test_the_review_of_the_clip_is_claimed_when_it_is_next(launched: list[str]) -> None:
    look, review = start_job(LOOK), start_job(REVIEW)
    claimed(look)
    taken = claim_review_of(_end(look))
    assert taken is not None
    assert (taken.name, taken.status.state, taken.worker_pid) == (review, "working", os.getpid())
    assert launched == [look]
    queue.next_in_line()
    assert launched == [look]  # it has its worker
    assert claim_review_of(job_of(look)) is None  # once


def test_nothing_else_is_claimed(launched: list[str]) -> None:
    look, other = start_job(LOOK), start_job(replace(REVIEW, clip_path="another"))
    start_job(REVIEW)
    assert claim_review_of(_end(look)) is None  # another clip comes first
    set_status(other, JobStatus("done"))
    assert claim_review_of(job_of(other)) is None  # not a look


def test_one_process_does_both_and_each_has_its_log(formcheck_home: Path, launched: list[str]) -> None:
    clip = formcheck_home / "0a1b"
    clip.write_text("not a clip")
    look = start_job(replace(LOOK, clip_path=str(clip)))
    review = start_job(replace(REVIEW, clip_path=str(clip)))
    command = [sys.executable, "-m", "formcheck.jobs.worker", look]
    done = subprocess.run(command, env=os.environ, capture_output=True, check=False)
    assert done.returncode == 1, done.stderr
    assert [status_of(name).state for name in (look, review)] == ["failed", "failed"]
    assert job_of(look).worker_pid == job_of(review).worker_pid
    assert (DataFolder(formcheck_home).job(review) / "worker.log").is_file()


@pytest.mark.parametrize("put_away", [False, True])
def test_a_clip_taken_from_the_list_gets_no_small_picture(
    launched: list[str], monkeypatch: pytest.MonkeyPatch, put_away: bool
) -> None:
    drawn: list[Path] = []
    monkeypatch.setattr(
        pipeline, "suggest_exercise", lambda *_, **__: Suggestion((), CameraView("front", None, None, "given"), (), ())
    )
    monkeypatch.setattr(background_tasks, "_draw_clip_thumbnail", drawn.append)
    look = start_job(LOOK)
    queue.put_away([look], away=put_away)
    with open_jobs():
        job = find_job(look)
    assert job is not None
    background_tasks.suggest_for_clip(job, lambda *_: None)
    assert drawn == ([] if put_away else [Path("clip")])
