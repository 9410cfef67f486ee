"""The queue: work started once, taken up again once, given up in the end; saved once; the worker's own steps."""

import dataclasses
import multiprocessing
import os
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.core.errors import ClipError, StoreError
from formcheck.core.model import Analysis
from formcheck.jobs import progress, queue, worker
from formcheck.jobs.progress import ProgressReporter
from formcheck.jobs.queue import (
    SILENCE_S,
    JobRequest,
    JobStatus,
    claim_job,
    find_job,
    follow_job,
    jobs_in_line,
    next_in_line,
    open_jobs,
    start_job,
)
from formcheck.services.review_outputs import ReviewOutputs
from formcheck.storage import Store, engine
from formcheck.storage.backup import back_up, restore
from formcheck.storage.data_folder import Artifacts, DataFolder, default_store
from formcheck.storage.jobs import DELETED
from formcheck.video import browser_playback
from tests.jobs.rows import add_job, claimed, job_of, line, set_status, status_of
from tests.video.clips import write_clip
from tests.web.synthetic import synthetic_analysis, synthetic_recording

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto", 8.0, 10)
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def numbered(number: int) -> JobRequest:
    return replace(REQUEST, clip_name=f"{number}.mp4")


# ---------------------------------------------------------------- asked for


def test_the_same_work_is_joined_while_it_runs_and_new_when_it_is_over(launched: list[str]) -> None:
    first = start_job(REQUEST)
    assert start_job(REQUEST) == first
    assert start_job(replace(REQUEST, load_kg=9.0)) != first
    set_status(first, JobStatus("done"))
    assert start_job(REQUEST) != first
    assert len(launched) == 2  # the third stands in line


def test_jobs_in_line_are_worked_on_one_after_the_other_and_once(launched: list[str]) -> None:
    asked = [start_job(numbered(number)) for number in range(4)]
    assert line() == asked
    assert [status_of(job).state for job in asked[1:]] == ["queued"] * 3
    for place, job in enumerate(asked, start=1):
        with ThreadPoolExecutor(8) as pool:
            list(pool.map(lambda _: next_in_line(), range(24)))
        assert launched == asked[:place]
        set_status(launched[-1], JobStatus("failed" if place == 2 else "done", problem="One sentence."))
        assert job not in line()
    next_in_line()
    assert len(launched) == 4


def test_what_a_person_waits_for_does_not_stand_in_line(launched: list[str], store_review: Callable[..., int]) -> None:
    number = store_review()
    start_job(REQUEST)
    film = start_job(replace(REQUEST, review_id=number, kind="film"))
    test_clip = start_job(replace(REQUEST, kind="placement"))
    assert launched[1:] == [film, test_clip]


def test_many_clicks_at_once_start_one_job(launched: list[str]) -> None:
    with ThreadPoolExecutor(16) as pool:
        names = set(pool.map(lambda _: start_job(REQUEST), range(64)))
    assert len(names) == 1
    assert len(launched) == 1


@pytest.mark.parametrize("job", ["", "../..", "a" * 20 + "-1/..", "0123456789abcdef0123-99999", "/", "0" * 20 + "-1"])
def test_a_name_that_was_not_given_out_leads_nowhere(job: str) -> None:
    assert find_job(job) is None
    assert follow_job(job) is None


def test_a_request_comes_back_as_it_was_asked(launched: list[str], store_review: Callable[..., int]) -> None:
    every = JobRequest(
        "a", "b\0c.mp4", "squat", "oblique", 7.5, 9, store_review(), "film", "Ada", "2026-11-25", "d", "e", True, "{}"
    )
    assert len(dataclasses.astuple(every)) == len(JobRequest.__dataclass_fields__)
    assert job_of(start_job(every)).request == replace(every, clip_name="b?c.mp4")  # no database keeps a NUL


def test_two_data_folders_on_one_store_have_a_line_each(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The clips of a job lie in one of them only."""
    monkeypatch.setenv("FORMCHECK_STORE", str(tmp_path / "shared.sqlite"))
    first = start_job(REQUEST)
    monkeypatch.setenv("FORMCHECK_HOME", str(tmp_path / "another"))
    assert find_job(first) is None
    second = start_job(numbered(2))
    assert line() == [second]
    assert launched == [first, second]
    monkeypatch.setenv("FORMCHECK_HOME", str(formcheck_home))
    assert line() == [first]


def test_a_store_that_can_only_be_read_shows_its_jobs(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("formcheck.storage.database.can_only_be_read", lambda url: len(launched) > 0)
    first = start_job(REQUEST)
    with Store.open(default_store()) as store:
        assert not store.writable
    set_time = time.time() + SILENCE_S + 1
    monkeypatch.setattr(queue.time, "time", lambda: set_time)
    next_in_line()
    job = follow_job(first)
    assert job is not None
    assert job.status.state == "waiting"
    assert launched == [first]
    with pytest.raises(StoreError, match="read-only"):
        start_job(numbered(2))


# ---------------------------------------------------------------- claimed, dead, given up


def _claim(name: str) -> str | None:
    with open_jobs() as (store, _):
        job = claim_job(store, job_of(name))
    return None if job is None else job.claim


def test_only_one_worker_gets_the_claim(launched: list[str]) -> None:
    job = start_job(REQUEST)
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        claims = pool.map(_claim, [job] * 8)
    assert len([claim for claim in claims if claim is not None]) == 1
    set_status(job, JobStatus("done"))
    assert _claim(start_job(REQUEST)) is not None


def test_a_job_that_is_over_is_not_claimed(launched: list[str]) -> None:
    assert _claim(add_job(REQUEST, JobStatus("failed"), 1.0)) is None


def test_a_dead_worker_is_replaced_once_however_many_tabs_look(
    launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    job = start_job(REQUEST)
    before = claimed(job)
    follow_job(job)
    assert launched == [job]
    monkeypatch.setattr(queue, "worker_lives", lambda job: False)
    now = time.time()
    monkeypatch.setattr(queue.time, "time", lambda: now + SILENCE_S + 1)
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: follow_job(job), range(32)))
    assert launched == [job, job]
    assert status_of(job).stage == "Starting again"
    with open_jobs() as (store, _):
        # Should the one that was taken for dead wake up, its word counts no more.
        assert not store.write_progress(before, JobStatus("done"), now)
        assert not store.holds_claim(before)
    assert claimed(job).claim != before.claim


def test_the_line_goes_on_after_the_program_was_killed(launched: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = start_job(numbered(1)), start_job(numbered(2))
    monkeypatch.setattr(queue, "worker_lives", lambda job: False)
    claimed(first)
    started = time.time()
    for again in range(1, queue.MOST_RESTARTS + 3):
        later = started + again * (SILENCE_S + 1)
        monkeypatch.setattr(queue.time, "time", lambda later=later: later)
        next_in_line()
    # Its worker died again and again: it is given up, and the second gets its turn.
    assert status_of(first).state == "failed"
    assert status_of(first).problem == queue.GIVEN_UP
    assert launched == [first] * (1 + queue.MOST_RESTARTS) + [second]


def test_a_job_whose_starter_was_killed_before_the_worker_began_is_taken_up(
    launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(store: object, job: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(queue, "_launch", killed)
        with pytest.raises(KeyboardInterrupt):
            start_job(REQUEST)
    (job,) = line()
    next_in_line()
    assert launched == []
    started = time.time()
    monkeypatch.setattr(queue.time, "time", lambda: started + SILENCE_S + 1)
    next_in_line()
    assert launched == [job]


def test_a_worker_that_is_done_sets_the_next_one_going(formcheck_home: Path, launched: list[str]) -> None:
    bad = formcheck_home / "0a1b"
    bad.write_text("not a clip")
    start_job(JobRequest(str(bad), "one.mov", "lateral-raise", "auto"))
    second = start_job(JobRequest(str(bad), "two.mov", "lateral-raise", "auto"))
    assert worker.main([launched[0]]) == 1
    assert launched[1:] == [second]


# ---------------------------------------------------------------- how far it is


def test_the_time_left_follows_the_pace() -> None:
    clock = iter([0.0, 30.0])
    written: list[JobStatus] = []
    reporter = ProgressReporter(lambda status, result: written.append(status), clock=lambda: next(clock, 30.0))
    reporter.report("Looking", (0.0, 0.5), 6.0, 10.0)
    # 30 s for 0.3 of the work leaves 0.7 of it: 70 s.
    assert reporter.status.share == pytest.approx(0.3)
    assert reporter.status.seconds_left == pytest.approx(70.0)
    reporter.end(JobStatus("done"))
    assert written[-1] == JobStatus("done", spent_s=30.0)


def test_a_heartbeat_goes_on_without_news_and_news_are_few(monkeypatch: pytest.MonkeyPatch) -> None:
    """However often the work says how far it is, the database hears of it at every tick at most."""
    monkeypatch.setattr(progress, "WRITES_S", 0.05)
    written: list[JobStatus] = []
    reporter = ProgressReporter(lambda status, result: written.append(status))
    while len(written) < 3:
        time.sleep(0.01)
    assert {status.stage for status in written} == {"Starting"}
    before = len(written)
    for done in range(100_000):
        reporter.report("Looking", (0.0, 1.0), float(done), 100_000.0)
    during = len(written) - before
    reporter.end(JobStatus("done"))
    assert during < 10_000
    assert written[-1].state == "done"


def test_a_busy_database_costs_news_and_neither_work_nor_the_end(
    launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "BUSY_TIMEOUT_S", 0.05)
    monkeypatch.setattr(progress, "WRITES_S", 0.02)
    job = claimed(start_job(REQUEST))
    refused = []

    with Store.open(default_store()) as store, closing(sqlite3.connect(default_store(), timeout=0.05)) as other:
        other.isolation_level = None

        def write(status: JobStatus, result: str | None) -> None:
            try:
                store.write_progress(job, status, time.time(), result)
            except StoreError:
                refused.append(status)
                if status.state == "done":
                    other.execute("ROLLBACK")  # free again when the end is tried a second time
                raise

        other.execute("BEGIN IMMEDIATE")
        reporter = ProgressReporter(write)
        reporter.report("Looking", (0.0, 1.0), 4.0, 10.0)
        while len(refused) < 2:
            time.sleep(0.01)
        assert status_of(job.name).stage == "Starting"  # readers are not held up
        reporter.report("Looking", (0.0, 1.0), 5.0, 10.0)
        reporter._over.set()
        reporter._thread.join()
        reporter.end(JobStatus("done"), "{}")
    assert refused[-1].state == "done"
    assert status_of(job.name).state == "done"
    assert job_of(job.name).result == "{}"


# ---------------------------------------------------------------- the worker


def test_a_worker_tells_a_bad_clip_under_the_users_own_name(formcheck_home: Path, launched: list[str]) -> None:
    (formcheck_home / "0a1b2c").write_text("not a clip at all")
    job = start_job(JobRequest(str(formcheck_home / "0a1b2c"), "friday.mov", "lateral-raise", "auto"))
    command = [sys.executable, "-m", "formcheck.jobs.worker", job]
    done = subprocess.run(command, env=os.environ, capture_output=True, check=False)
    status = status_of(job)
    assert done.returncode == 1, done.stderr
    assert status.state == "failed"
    assert status.problem == '"friday.mov" is not a video.'
    # A second worker finds it over and leaves the result alone.
    again = subprocess.run(command, env=os.environ, check=False)
    assert again.returncode == 0
    assert status_of(job) == status


def test_a_wrong_call_of_the_worker_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert worker.main([]) == 2
    assert worker.main(["nowhere"]) == 2
    assert "usage" in capsys.readouterr().err


def test_a_worker_refuses_a_store_that_is_not_the_one_the_page_had(
    formcheck_home: Path, launched: list[str], tmp_path: Path
) -> None:
    job = start_job(REQUEST)
    found = (formcheck_home / "reviews.sqlite").stat()
    expected = {"FORMCHECK_EXPECTED_STORE": f"{found.st_dev}:{found.st_ino}:{formcheck_home / 'reviews.sqlite'}"}
    shutil.copy(formcheck_home / "reviews.sqlite", tmp_path / "copy.sqlite")
    (tmp_path / "copy.sqlite").replace(formcheck_home / "reviews.sqlite")
    done = subprocess.run(
        [sys.executable, "-m", "formcheck.jobs.worker", job],
        env={**os.environ, **expected},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "replaced" in done.stderr
    assert job_of(job).claim is None


def test_a_review_is_saved_once_and_only_by_the_worker_that_holds_the_claim(
    launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    review = synthetic_analysis().review
    name = start_job(REQUEST)
    first = claimed(name)
    monkeypatch.setattr(queue, "worker_lives", lambda job: False)
    later = time.time() + SILENCE_S + 1
    with Store.open(default_store()) as store:
        number = store.save_review(review, created_at=NOON, job=first)
        assert store.save_review(review, created_at=NOON, job=first) == number
        with monkeypatch.context() as patch:
            patch.setattr(queue.time, "time", lambda: later)
            follow_job(name)
        with pytest.raises(StoreError, match="deleted"):
            store.save_review(review, created_at=NOON, job=first)  # killed, it would not; asleep, it might
        second = claimed(name)
        assert second.status.review_id == number
        assert store.save_review(review, created_at=NOON, job=second) == number
        assert len(store.list_reviews()) == 1
        store.delete_review(number)
        assert find_job(name) is None
        with pytest.raises(StoreError, match="deleted"):
            store.save_review(review, created_at=NOON, job=second)
        assert store.list_reviews() == []


def test_a_job_stopped_for_a_deletion_saves_nothing(launched: list[str]) -> None:
    job = claimed(start_job(REQUEST))
    with Store.open(default_store()) as store:
        store.stop_jobs([job.id])
        with pytest.raises(StoreError, match=DELETED):
            store.save_review(synthetic_analysis().review, created_at=NOON, job=job)
        assert not store.write_progress(job, JobStatus("done"), 1.0)
    assert status_of(job.name).problem == DELETED


def test_a_worker_killed_after_saving_draws_what_is_stored(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    analysis = synthetic_analysis()
    stored = replace(analysis.review, set_info=replace(analysis.review.set_info, load_kg=3.25))
    name = start_job(REQUEST)
    with Store.open(default_store()) as store:
        number = store.save_review(stored, created_at=NOON, job=claimed(name))
        store.change_job(job_of(name).id, lambda job, before: {"claim": None})
    half = formcheck_home / "jobs" / name / "drawn"
    half.mkdir(parents=True)
    (half / ".report.html.0a1b2c3d.part").write_text("half written")
    drawn = []

    def draw(out: Artifacts, made: ReviewOutputs) -> None:
        drawn.append(made)
        write_drawn(out)

    stand_in(monkeypatch, analysis, draw)
    assert worker.main([name]) == 0, status_of(name).problem
    (made,) = drawn
    assert made.analysis.review.set_info.load_kg == 3.25
    assert made.reviewed_on == NOON.astimezone().date()
    assert status_of(name).review_id == number
    with Store.open(default_store()) as store:
        assert [row.id for row in store.list_reviews()] == [number]
    names = {path.name for path in DataFolder(formcheck_home).artifacts(number).folder.iterdir()}
    assert names == {"report.html", "pictures.json", "clips.txt", "landmarks.npz"}


def write_drawn(out: Artifacts) -> None:
    out.folder.mkdir(parents=True)
    out.report.write_text("drawn")
    out.pictures_file.write_text("{}")


def stand_in(
    monkeypatch: pytest.MonkeyPatch, analysis: Analysis, draw: Callable[[Artifacts, ReviewOutputs], None]
) -> None:
    """A worker that knows at once what the clip shows, a browser that cannot play it, and stills drawn in a test."""
    monkeypatch.setattr(worker, "_analyse_clips", lambda *_: (analysis, synthetic_recording(analysis)))
    monkeypatch.setattr("formcheck.video.browser_playback.rate_playback", lambda clip: "not")
    monkeypatch.setattr(worker, "draw", draw)


def test_a_review_is_saved_and_found_before_its_pictures_are_drawn(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The film, for which this browser has to wait, is a job of its own behind it."""
    name, seen = start_job(REQUEST), []

    def draw(out: Artifacts, made: ReviewOutputs) -> None:
        job = job_of(name)
        number = job.status.review_id
        assert number is not None
        at_work = queue.find_drawing(number)
        assert at_work is not None
        assert at_work.name == name
        with Store.open(default_store()) as store:
            seen.append((job.status.state, len(store.load_review(number).findings)))
        assert DataFolder(formcheck_home).artifacts(number).recording.is_file()
        write_drawn(out)

    analysis = synthetic_analysis()
    stand_in(monkeypatch, analysis, draw)
    assert worker.main([name]) == 0, status_of(name).problem
    assert seen == [("working", len(analysis.review.findings))]
    number = status_of(name).review_id
    assert number is not None
    assert DataFolder(formcheck_home).artifacts(number).complete
    film = job_of(launched[-1])
    assert len(launched) == 2
    assert (film.request.kind, film.request.review_id, film.request.in_line) == ("review", number, False)
    found = queue.find_drawing(number)
    assert found is not None
    assert found.name == film.name


def test_a_clip_that_browsers_play_is_played_as_it_is_before_anything_is_drawn(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch, root: Path
) -> None:
    """A shipped clip is H.264 in MP4, which every browser plays: no picture is drawn yet, and no film is ever made."""
    clip = root / "clips_demo" / "lateral_raise_front_clean.mp4"
    name, played = start_job(replace(REQUEST, clip_path=str(clip))), []

    def draw(out: Artifacts, made: ReviewOutputs) -> None:
        number = job_of(name).status.review_id
        assert number is not None
        drawn = DataFolder(formcheck_home).artifacts(number)
        played.append((drawn.playable(str(clip)), drawn.report.is_file()))
        write_drawn(out)

    rate = browser_playback.rate_playback
    stand_in(monkeypatch, synthetic_analysis(), draw)
    monkeypatch.setattr("formcheck.video.browser_playback.rate_playback", rate)
    assert worker.main([name]) == 0, status_of(name).problem
    assert played == [(clip, False)]
    assert launched == [name]


def test_a_review_stays_when_its_pictures_cannot_be_drawn(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def draw(out: Artifacts, made: ReviewOutputs) -> None:
        raise ClipError("The clip cannot be read.")

    stand_in(monkeypatch, synthetic_analysis(), draw)
    name = start_job(REQUEST)
    assert worker.main([name]) == 0
    number = status_of(name).review_id
    assert number is not None
    with Store.open(default_store()) as store:
        assert store.load_review(number).reps
    # Asked for again, as by whoever opens it, the sentence comes to light.
    assert worker.main([launched[-1]]) == 1
    assert status_of(launched[-1]).problem == "The clip cannot be read."


def test_a_film_that_was_cut_off_is_made_again_and_the_review_is_there_meanwhile(
    formcheck_home: Path, launched: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    clip = write_clip(tmp_path / "set.mkv", [index / 25 for index in range(20)])
    stand_in(monkeypatch, synthetic_analysis(), lambda out, made: write_drawn(out))
    name = start_job(replace(REQUEST, clip_path=str(clip)))
    assert worker.main([name]) == 0, status_of(name).problem
    number = status_of(name).review_id
    assert number is not None
    drawn, film = DataFolder(formcheck_home).artifacts(number), launched[-1]
    half = formcheck_home / "jobs" / film / "drawn"
    half.mkdir(parents=True)
    (half / ".clip.mp4.0a1b2c3d.part").write_text("half written")
    assert (drawn.complete, drawn.playable(str(clip))) == (True, None)
    assert worker.main([film]) == 0, status_of(film).problem
    assert drawn.playable(str(clip)) == drawn.film
    assert not [path for path in drawn.folder.iterdir() if path.name.startswith(".")]
    with Store.open(default_store()) as store:
        assert [row.id for row in store.list_reviews()] == [number]


def test_the_film_of_a_review_is_drawn_from_its_own_landmarks(
    formcheck_home: Path, store_review: Callable[..., int], tmp_path: Path, launched: list[str]
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
    drawn = DataFolder(formcheck_home).artifacts(number)
    drawn.overlay.unlink()
    job = start_job(JobRequest(str(clip), "set.mp4", "lateral-raise", "auto", None, None, number, "film"))
    assert worker.main([job]) == 0
    assert status_of(job).review_id == number
    with av.open(str(drawn.overlay)) as film:
        pictures = [picture.to_ndarray(format="rgb24") for picture in film.decode(video=0)]
    assert len(pictures) == 12
    assert np.ptp(pictures[0].astype(int)) > 100  # lines on what was plain grey
    with Store.open(default_store()) as store:
        assert len(store.list_reviews()) == 1


# ---------------------------------------------------------------- backups


def test_a_backup_holds_no_jobs_and_a_restore_leaves_those_that_wait(
    formcheck_home: Path, launched: list[str], tmp_path: Path, store_review: Callable[..., int]
) -> None:
    store_review()
    before = start_job(numbered(777))
    with Store.open(default_store()) as store:
        assert back_up(store, tmp_path / "backup.sqlite") == 1
    with closing(sqlite3.connect(tmp_path / "backup.sqlite")) as raw:
        assert raw.execute("SELECT count(*) FROM jobs").fetchone() == (0,)
    assert b"777.mp4" not in (tmp_path / "backup.sqlite").read_bytes()
    set_status(before, JobStatus("done", review_id=store_review()))  # of a review that is not in the backup
    waiting = [start_job(numbered(1)), start_job(numbered(2))]
    restore(default_store(), tmp_path / "backup.sqlite", restored_at=NOON)
    assert [job.name for job in jobs_in_line()] == waiting
    assert find_job(before) is None
