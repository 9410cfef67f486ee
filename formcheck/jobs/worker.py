"""The process that does a job: ``python -m formcheck.jobs.worker JOB``; after a look at a clip its review too.

It saves the review as soon as the reps are cut, so that it can be read while its pictures are drawn; a film, where the
browser needs one, is a job of its own. It can be killed at any moment: started again, it goes on from the stored
landmarks and never saves the same review twice.
"""

import os
import shutil
import sys
import time
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from formcheck.core.errors import (
    NOT_ENOUGH_MEMORY,
    ClipError,
    FormcheckError,
    StoreError,
    UnclearPairError,
    is_memory_shortage,
)
from formcheck.core.model import Analysis, LandmarkRecording, Review, SetInfo
from formcheck.core.private_files import make_new_files_private
from formcheck.core.seccomp import deny_sockets
from formcheck.exercises import own_files
from formcheck.exercises.schema import Exercise
from formcheck.jobs import background_tasks, queue
from formcheck.jobs.progress import ProgressReporter
from formcheck.jobs.queue import Job, JobRequest, JobStatus
from formcheck.jobs.so_far import SoFarWriter
from formcheck.services import drawing
from formcheck.services.own_limits import exercise_for
from formcheck.services.review_outputs import ReviewOutputs
from formcheck.storage import Store
from formcheck.storage.data_folder import (
    Artifacts,
    DataFolder,
    data_home,
    default_store,
    own_exercises_folder,
    recordings_folder,
)
from formcheck.storage.jobs import DELETED, SAME_SET_ASKED, name_parts

_TRACKING, _CUTTING, _DRAWING = (0.0, queue.TRACKING_SHARE), (queue.TRACKING_SHARE, 0.9), (0.9, 1.0)
"""Shares of the work, by what they cost on the machines it was tried on."""
_NICE = 10
"""So much a film gives way to what is next in line."""
UNEXPECTED = "Something went wrong inside formcheck; the log of this job says what."


def run_job(job: Job) -> JobStatus:
    """Do a job whose claim is held, and return how it ended (StoreError when that cannot be written)."""
    request = job.request
    with Store.open() as store:
        reporter = ProgressReporter(
            lambda status, result: store.write_progress(job, status, time.time(), result=result)
        )
        result = None
        try:
            review_id, result = _do_task(job, reporter)
            status = JobStatus("done", "Done", 1.0, 0.0, review_id=review_id)
        except Exception as error:  # the page must hear of it
            status = JobStatus("failed", problem=_describe_failure(error, request))
            result = SAME_SET_ASKED if isinstance(error, UnclearPairError) else None
            if status.problem == UNEXPECTED:
                reporter.end(status)
                raise  # the trace goes to the log
        reporter.end(status, result)
    if request.kind in ("placement", "look"):
        with suppress(FormcheckError):  # what is left goes with the next deletion
            background_tasks.delete_clip(request)
    return status


def _describe_failure(error: Exception, request: JobRequest) -> str:
    if isinstance(error, FormcheckError):
        return str(_name_clip(error, request))
    if is_memory_shortage(error):
        return NOT_ENOUGH_MEMORY
    if isinstance(error, OSError):
        return f"A file could not be read or written: {error.strerror or error}."
    return UNEXPECTED


def _name_clip(error: FormcheckError, request: JobRequest) -> FormcheckError:
    """The error with the clip's name as the user knows it: a stored upload has its checksum for a name."""
    if not isinstance(error, ClipError) or error.path is None:
        return error
    if request.second_path is not None and error.path.name == Path(request.second_path).name:
        return error.with_name(request.second_name or "the second clip")
    return error.with_name(request.clip_name) if error.path.name == Path(request.clip_path).name else error


def _do_task(job: Job, reporter: ProgressReporter) -> tuple[int | None, str | None]:
    """The number of the review worked on, if there is one, and what was seen in a clip, if that was asked for."""
    request = job.request
    if request.kind == "review":
        return _review_or_draw(job, reporter), None
    if request.kind == "film":
        return background_tasks.draw_film(request, reporter.of(queue.DRAW, (0.0, 1.0))), None
    if request.kind == "excerpt":
        return background_tasks.cut_excerpt(job, reporter.of(queue.CUT_OUT, (0.0, 1.0))), None
    report = reporter.of(queue.TRACK, (0.0, 1.0))
    if request.kind == "placement":
        return None, background_tasks.judge_test_clip(request, report)
    so_far = SoFarWriter(job.name)
    try:
        return None, background_tasks.suggest_for_clip(job, report, so_far.write)
    finally:
        so_far.close()


def _review_or_draw(job: Job, reporter: ProgressReporter) -> int:
    """A new review, whose film is left to another job; or what a stored one lacks, its film included."""
    request = job.request
    if request.review_id is None:
        review_id, review = _review(job, reporter)
        if DataFolder(data_home()).artifacts(review_id).film_wanted:
            queue.start_job(queue.request_drawing(review_id, review, request.clip_path))
        return review_id
    if not DataFolder(data_home()).artifacts(request.review_id).complete:
        _review(job, reporter)
    _make_film(job, request.review_id, reporter)
    return request.review_id


def _review(job: Job, reporter: ProgressReporter) -> tuple[int, Review]:
    request, clip = job.request, Path(job.request.clip_path)
    with Store.open() as store:
        # As the client's own limits have it, where a coach has set some.
        known = request.client is not None and store.find_client(request.client) is not None
        exercise = exercise_for(store, request.exercise, request.client if known else None)
    so_far = SoFarWriter(job.name, exercise)
    try:
        analysis, recording = _analyse_clips(request, exercise, reporter, so_far)
    finally:
        so_far.close()
    reporter.tracking_done(recording.clip.duration_s, queue.TRACKING_SHARE)
    reporter.report(queue.CUT, _CUTTING, 0.0, 1.0)
    reviewed_at = datetime.now(UTC)
    with Store.open() as store:
        review_id = job.status.review_id
        if review_id is not None:
            # Stored already, by an earlier worker of this job too: the stored findings are shown, whatever today's
            # limits are.
            analysis = replace(analysis, review=store.load_review(review_id))
            reviewed_at = next(iter(store.list_reviews(review_id=review_id))).created_at
        drawn = Artifacts(DataFolder(data_home()).job(job.name) / "drawn")
        _check_wanted(store, job)
        shutil.rmtree(drawn.folder, ignore_errors=True)  # of a worker that was killed while it drew
        drawing.put_in_clip(drawn, clip, recording)
        drawn.write_clip_names(request.clips)
        if review_id is None:
            review_id = store.save_review(
                analysis.review,
                created_at=reviewed_at,
                client=request.client,
                clip_path=clip,
                session_on=date.fromisoformat(request.session_on) if request.session_on else None,
                job=job,
            )
        _place_drawing(store, job, drawn, review_id)  # it can be read from here on
        reporter.report(queue.DRAW_REPS, _DRAWING, 0.0, 1.0)
        made = ReviewOutputs(analysis, recording, exercise, clip, reviewed_at.astimezone().date())
        try:
            draw(drawn, made)
        except (FormcheckError, OSError) as error:
            _check_wanted(store, job)
            if request.review_id is not None:
                raise
            sys.stderr.write(f"{error}\n")  # whoever opens it has them drawn again, and is told
        else:
            _place_drawing(store, job, drawn, review_id)
    return review_id, analysis.review


def draw(out: Artifacts, made: ReviewOutputs) -> None:
    """Make stills and report in a folder (ClipError, OSError)."""
    out.folder.mkdir(parents=True, exist_ok=True)
    made.make_pictures()
    made.write_drawn(out)


def _make_film(job: Job, review_id: int, reporter: ProgressReporter) -> None:
    """Make the film of a review whose other pictures are there, where it is missing; other work goes first."""
    from formcheck.pose.recording import load_recording

    target = DataFolder(data_home()).artifacts(review_id)
    if not target.film_wanted:
        return
    if hasattr(os, "nice"):  # not on Windows
        os.nice(_NICE)
    rate = load_recording(target.recording).clip.frame_rate
    drawn = Artifacts(DataFolder(data_home()).job(job.name) / "drawn")
    shutil.rmtree(drawn.folder, ignore_errors=True)
    drawing.make_film(drawn, Path(job.request.clip_path), rate, reporter.of(queue.CONVERT, (0.0, 1.0)))
    with Store.open() as store:
        _place_drawing(store, job, drawn, review_id)


def _place_drawing(store: Store, job: Job, drawn: Artifacts, review_id: int) -> None:
    """Move what was drawn to where the review has it; nothing is left of one that was deleted meanwhile."""
    target = DataFolder(data_home()).artifacts(review_id)
    _check_wanted(store, job)
    _move_files(drawn, target)
    try:
        _check_wanted(store, job)
    except StoreError:  # with its client, in the moment between
        if not store.list_reviews(review_id=review_id):
            shutil.rmtree(target.folder, ignore_errors=True)
        raise


def _check_wanted(store: Store, job: Job) -> None:
    """A job deleted with its client leaves nothing behind: no drawing, no review."""
    if not store.holds_claim(job):
        raise StoreError(DELETED)


def _analyse_clips(
    request: JobRequest, exercise: Exercise, reporter: ProgressReporter, so_far: SoFarWriter
) -> tuple[Analysis, LandmarkRecording]:
    """Review one clip, or two of one set, under the names the user knows them by."""
    from formcheck.services.pipeline import review_clip

    analysis, recording = review_clip(
        Path(request.clip_path),
        exercise,
        view=request.view,
        second=None if request.second_path is None else Path(request.second_path),
        same_set=request.same_set,
        set_info=SetInfo(request.load_kg, request.target_reps),
        cache_dir=recordings_folder(),
        on_progress=reporter.of(queue.TRACK, _TRACKING),
        on_parts=so_far.write,
    )
    review = replace(analysis.review, clip=replace(analysis.review.clip, name=_name(request.clip_name)))
    if review.second is not None:
        second = replace(review.second.clip, name=_name(request.second_name or ""))
        review = replace(review, second=replace(review.second, clip=second))
    return replace(analysis, review=review), recording


def _name(text: str) -> str:
    return " ".join(text.split())[:200] or "clip"


def _move_files(drawn: Artifacts, target: Artifacts) -> None:
    target.folder.mkdir(parents=True, exist_ok=True)
    for path in drawn.folder.iterdir():
        path.replace(target.folder / path.name)
    drawn.folder.rmdir()


def main(arguments: list[str]) -> int:
    """Do the job of the given name; 0 when it was done or has its worker, 1 when not, 2 for a wrong call."""
    if len(arguments) != 1 or name_parts(arguments[0]) is None:
        sys.stderr.write("usage: python -m formcheck.jobs.worker JOB\n")
        return 2
    make_new_files_private()
    own_files.use_folder(own_exercises_folder)
    try:
        with queue.open_jobs() as (store, home):
            found = store.find_job(home, arguments[0])
            job = None if found is None else queue.claim_job(store, found)
    except StoreError as error:  # another store than the page's, too: nothing is known of the job there
        sys.stderr.write(f"{error}\n")
        return 1
    if job is None:
        return 0
    try:
        status = run_job(job)
        if (review := _take_review_of(job)) is not None:
            status = run_job(review)
        return 0 if status.state == "done" else 1
    finally:
        with suppress(FormcheckError, OSError):  # whoever asks next sees to it
            queue.next_in_line()
            with queue.open_jobs() as (store, home):
                queue.clear_old_jobs(store, home, data_home(), time.time())


def _take_review_of(look: Job) -> Job | None:
    """The review that is to follow a look in this process, what is written from here on going to its log."""
    review = None
    with suppress(FormcheckError):
        review = queue.claim_review_of(look)
    if review is not None:
        with suppress(OSError), queue.open_log(review) as log:
            for stream in (sys.stdout, sys.stderr):
                os.dup2(log.fileno(), stream.fileno())
    return review


if __name__ == "__main__":
    if "://" not in default_store():  # a database server is reached over the network
        deny_sockets()
    raise SystemExit(main(sys.argv[1:]))
