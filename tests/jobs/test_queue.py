"""Jobs: started once, taken up again once, told in whole status files; the worker's own steps."""

import json
import multiprocessing
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.jobs import queue, worker
from formcheck.jobs.queue import (
    SILENCE_S,
    JobRequest,
    JobStatus,
    claim_job,
    job_folder,
    jobs_folder,
    next_in_line,
    read_request,
    read_status,
    resume_job,
    start_job,
    waiting_line,
    write_status,
)
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.storage.media_files import artefacts
from tests.web.synthetic import synthetic_analysis

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto", 8.0, 10)


def test_the_same_work_is_joined_while_it_runs_and_new_when_it_is_over(
    formcheck_home: Path, launched: list[Path]
) -> None:
    first = start_job(formcheck_home, REQUEST)
    assert start_job(formcheck_home, REQUEST) == first
    assert start_job(formcheck_home, replace(REQUEST, load_kg=9.0)) != first
    write_status(jobs_folder(formcheck_home) / first, JobStatus("done", review_id=1))
    assert start_job(formcheck_home, REQUEST) != first
    assert len(launched) == 2  # the third stands in line


def test_jobs_in_line_are_worked_on_one_after_the_other_and_once(formcheck_home: Path, launched: list[Path]) -> None:
    asked = [start_job(formcheck_home, replace(REQUEST, clip_name=f"{number}.mp4")) for number in range(4)]
    assert waiting_line(formcheck_home) == asked
    assert [read_status(jobs_folder(formcheck_home) / job).state for job in asked[1:]] == ["queued"] * 3
    for place, job in enumerate(asked, start=1):
        with ThreadPoolExecutor(8) as pool:
            list(pool.map(lambda _: next_in_line(formcheck_home), range(24)))
        assert [folder.name for folder in launched] == asked[:place]
        write_status(launched[-1], JobStatus("failed" if place == 2 else "done", problem="One sentence."))
        assert job not in waiting_line(formcheck_home)
    next_in_line(formcheck_home)
    assert len(launched) == 4


def test_what_a_person_waits_for_does_not_stand_in_line(formcheck_home: Path, launched: list[Path]) -> None:
    start_job(formcheck_home, REQUEST)
    film = start_job(formcheck_home, replace(REQUEST, review_id=3, kind="film"))
    assert [folder.name for folder in launched][1:] == [film]


def test_the_line_goes_on_after_the_program_was_killed(
    formcheck_home: Path, launched: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = (start_job(formcheck_home, replace(REQUEST, clip_name=name)) for name in ("1.mp4", "2.mp4"))
    assert claim_job(launched[0])
    started = time.time()
    for again in range(1, queue.MOST_RESTARTS + 3):
        later = started + again * (SILENCE_S + 1)
        monkeypatch.setattr(queue.time, "time", lambda later=later: later)
        next_in_line(formcheck_home)
    # Its worker died again and again: it is given up, and the second gets its turn.
    assert read_status(jobs_folder(formcheck_home) / first).state == "failed"
    assert [folder.name for folder in launched] == [first] * (1 + queue.MOST_RESTARTS) + [second]


def test_a_job_marked_but_never_begun_is_taken_up(
    formcheck_home: Path, launched: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(queue, "next_in_line", lambda home: None)
        job = start_job(formcheck_home, REQUEST)
    (jobs_folder(formcheck_home) / job / "launched").touch()
    started = time.time()
    for again in (1, 2):
        monkeypatch.setattr(queue.time, "time", lambda later=started + again * (SILENCE_S + 1): later)
        next_in_line(formcheck_home)
    assert [folder.name for folder in launched] == [job]


def test_a_worker_that_is_done_sets_the_next_one_going(formcheck_home: Path, launched: list[Path]) -> None:
    bad = formcheck_home / "0a1b"
    bad.write_text("not a clip")
    start_job(formcheck_home, JobRequest(str(bad), "one.mov", "lateral-raise", "auto"))
    second = start_job(formcheck_home, JobRequest(str(bad), "two.mov", "lateral-raise", "auto"))
    assert worker.main([str(launched[0])]) == 1
    assert [folder.name for folder in launched][1:] == [second]


def test_many_clicks_at_once_start_one_job(formcheck_home: Path, launched: list[Path]) -> None:
    with ThreadPoolExecutor(16) as pool:
        ids = set(pool.map(lambda _: start_job(formcheck_home, REQUEST), range(64)))
    assert len(ids) == 1
    assert len(launched) == 1


def test_only_one_worker_gets_the_claim(tmp_path: Path) -> None:
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        assert sorted(pool.map(claim_job, [tmp_path] * 8)) == [False] * 7 + [True]


def test_a_dead_worker_is_replaced_once_however_many_tabs_look(
    formcheck_home: Path, launched: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    job = start_job(formcheck_home, REQUEST)
    assert claim_job(launched[0])
    assert not resume_job(formcheck_home, job)
    now = time.time()
    monkeypatch.setattr(queue.time, "time", lambda: now + SILENCE_S + 1)
    with ThreadPoolExecutor(8) as pool:
        taken = list(pool.map(lambda _: resume_job(formcheck_home, job), range(32)))
    assert sum(taken) == 1
    assert len(launched) == 2
    assert claim_job(launched[0])


@pytest.mark.parametrize("job", ["", "../..", "a" * 20 + "-1/..", "0123456789abcdef0123-99999", "/", "0" * 20 + "-1"])
def test_an_id_that_was_not_given_out_leads_nowhere(formcheck_home: Path, job: str) -> None:
    assert job_folder(formcheck_home, job) is None
    assert not resume_job(formcheck_home, job)


def test_a_status_is_read_whole_while_it_is_written(tmp_path: Path) -> None:
    write_status(tmp_path, JobStatus("working", "x" * 5000))
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            write_status(tmp_path, JobStatus("working", "x" * 5000))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert {len(read_status(tmp_path).stage) for _ in range(300)} == {5000}
    finally:
        stop.set()
        writer.join()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"state": "working", "surprise": 1}'])
def test_a_damaged_status_counts_as_not_heard_of(tmp_path: Path, text: str) -> None:
    (tmp_path / "status.json").write_text(text)
    assert read_status(tmp_path).silent(time.time())


def test_the_time_left_follows_the_pace(tmp_path: Path) -> None:
    clock = iter([0.0, 30.0, 30.0, 30.0])
    teller = worker.Teller(tmp_path, clock=lambda: next(clock, 30.0))
    teller.tell("Looking", (0.0, 0.5), 6.0, 10.0)
    told = read_status(tmp_path)
    # 30 s for 0.3 of the work leaves 0.7 of it: 70 s.
    assert told.share == pytest.approx(0.3)
    assert told.seconds_left == pytest.approx(70.0)
    teller.end(JobStatus("done"))
    assert read_status(tmp_path).over


def test_a_worker_tells_a_bad_clip_under_the_users_own_name(formcheck_home: Path) -> None:
    folder = formcheck_home / "job"
    folder.mkdir()
    (formcheck_home / "0a1b2c").write_text("not a clip at all")
    asked = JobRequest(str(formcheck_home / "0a1b2c"), "friday.mov", "lateral-raise", "auto")
    (folder / "request.json").write_text(json.dumps({name: getattr(asked, name) for name in asked.__slots__}))
    done = subprocess.run(
        [sys.executable, "-m", "formcheck.jobs.worker", str(folder)], env=os.environ, capture_output=True, check=False
    )
    status = read_status(folder)
    assert done.returncode == 1
    assert status.state == "failed"
    assert status.problem == '"friday.mov" is not a video.'
    # A second worker finds the claim taken and leaves the result alone.
    again = subprocess.run([sys.executable, "-m", "formcheck.jobs.worker", str(folder)], env=os.environ, check=False)
    assert again.returncode == 0
    assert read_status(folder) == status


def test_a_damaged_request_is_one_sentence(formcheck_home: Path) -> None:
    (formcheck_home / "request.json").write_text('{"clip_path": "x", "unknown": 1}')
    with pytest.raises(ValueError, match="unknown"):
        read_request(formcheck_home)
    status = worker.work(formcheck_home)
    assert status.state == "failed"
    assert "cannot be read" in (status.problem or "")


def test_a_wrong_call_of_the_worker_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert worker.main([]) == 2
    assert worker.main([str(tmp_path / "nowhere")]) == 2
    assert "usage" in capsys.readouterr().err


def test_a_review_saved_before_the_kill_is_known_again(formcheck_home: Path) -> None:
    analysis = synthetic_analysis()
    made = datetime(2026, 11, 25, 18, 30, 1, 250_000, tzinfo=UTC)
    with Store.open(default_store()) as store:
        assert worker._saved_before(store, analysis, made) is None
        number = store.save_review(analysis.review, created_at=made)
        assert worker._saved_before(store, analysis, made) == number
        assert worker._saved_before(store, analysis, datetime.now(UTC)) is None


def test_a_job_begun_again_keeps_its_time(tmp_path: Path) -> None:
    assert worker._begun(tmp_path) == worker._begun(tmp_path)


def test_the_film_of_a_review_is_drawn_from_its_own_landmarks(
    formcheck_home: Path, store_review: Callable[..., int], tmp_path: Path
) -> None:
    import av
    import numpy as np

    clip = tmp_path / "set.mp4"
    with av.open(str(clip), "w") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 608, 1080, "yuv420p"
        for _ in range(12):
            grey = np.full((1080, 608, 3), 90, dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="rgb24")))
        container.mux(stream.encode())
    number = store_review()
    drawn = artefacts(formcheck_home, number)
    drawn.overlay.unlink()
    job = start_job_of(
        formcheck_home, JobRequest(str(clip), "set.mp4", "lateral-raise", "auto", None, None, number, "film")
    )
    assert worker.main([str(job)]) == 0
    assert read_status(job).review_id == number
    with av.open(str(drawn.overlay)) as film:
        pictures = [picture.to_ndarray(format="rgb24") for picture in film.decode(video=0)]
    assert len(pictures) == 12
    assert np.ptp(pictures[0].astype(int)) > 100  # lines on what was plain grey
    with Store.open(default_store()) as store:
        assert len(store.list_reviews()) == 1


def start_job_of(home: Path, request: JobRequest) -> Path:
    """A job's folder with its request in it, and no process."""
    folder = jobs_folder(home) / f"{request.key()}-1"
    folder.mkdir(parents=True)
    (folder / "request.json").write_text(json.dumps({name: getattr(request, name) for name in request.__slots__}))
    return folder
