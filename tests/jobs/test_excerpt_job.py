"""A part of a set cut out by a job: into the job's folder, anew where a worker was killed, gone with its review."""

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import av
import pytest

from formcheck.core.errors import StoreError
from formcheck.jobs import queue, worker
from formcheck.jobs.background_tasks import read_excerpt_wish, request_excerpt
from formcheck.jobs.queue import JobRequest, newest_jobs, start_job
from formcheck.services.delete import delete_review_data
from formcheck.services.excerpt import ExcerptWish
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.video.clip_file import compute_clip_sha256
from tests.jobs.rows import status_of
from tests.web.synthetic import synthetic_analysis
from tests.web.test_at_moment import write_clip

WISH = ExcerptWish(rep=3, speed=0.5, skeleton=False)


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    write_clip(tmp_path / "set.mp4")
    return tmp_path / "set.mp4"


@pytest.fixture
def number(clip: Path, store_review: Callable[..., int]) -> int:
    made = synthetic_analysis()
    info = replace(made.review.clip, sha256=compute_clip_sha256(clip))
    return store_review(replace(made, review=replace(made.review, clip=info)), clip_path=clip)


def ask(number: int, clip: Path, wish: ExcerptWish = WISH) -> str:
    return start_job(request_excerpt(number, synthetic_analysis().review, str(clip), wish))


def test_the_same_part_is_cut_once_and_another_by_a_job_of_its_own(
    number: int, clip: Path, launched: list[str]
) -> None:
    first = ask(number, clip)
    assert ask(number, clip) == first
    assert ask(number, clip, replace(WISH, rep=2)) != first
    (found,) = (job for job in newest_jobs() if job.name == first)
    assert read_excerpt_wish(found.request) == WISH
    assert not found.request.in_line  # somebody waits for it


def test_the_part_lies_in_the_jobs_folder_and_what_a_killed_worker_left_does_not(
    number: int, clip: Path, launched: list[str], formcheck_home: Path
) -> None:
    job, data = ask(number, clip), DataFolder(formcheck_home)
    half = data.excerpt(job).parent / ".clip.mp4.part"
    half.parent.mkdir(parents=True)
    half.write_bytes(b"cut off")
    assert worker.main([job]) == 0
    assert (status_of(job).state, status_of(job).review_id) == ("done", number)
    assert [path.name for path in half.parent.iterdir()] == ["clip.mp4"]
    rep = synthetic_analysis().review.reps[2]
    with av.open(str(data.excerpt(job))) as film:
        seconds = float(film.duration) / av.time_base
    assert seconds == pytest.approx((rep.end_s - rep.start_s + 0.8) / 0.5, abs=0.3)  # both ends a little longer
    with Store.open(default_store()) as store:
        delete_review_data(store, number, formcheck_home)
    assert not data.job(job).exists()
    assert newest_jobs() == []


def test_a_clip_that_is_gone_and_a_wish_nobody_wrote_end_in_a_sentence(
    number: int, clip: Path, launched: list[str], formcheck_home: Path
) -> None:
    gone = ask(number, clip)
    clip.unlink()
    assert worker.main([gone]) == 1
    assert "not where it was" in (status_of(gone).problem or "")
    shutil.rmtree(DataFolder(formcheck_home).job(gone))
    strange = JobRequest(str(clip), "set.mp4", "lateral-raise", "auto", review_id=number, kind="excerpt", excerpt="[1]")
    with pytest.raises(StoreError, match="cannot be read"):
        read_excerpt_wish(strange)


def test_a_request_without_an_excerpt_is_known_by_what_it_was_known_by_before() -> None:
    # As the program of the ninth schema named it (tests/data/store_0009.sql).
    request = JobRequest("/clips/invented-set-9.mp4", "invented set 9.mp4", "lateral-raise", "auto")
    assert request.key() == "5ccf455c574736ff1935"
    assert queue.CUT_OUT not in queue.STAGES
