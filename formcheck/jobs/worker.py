"""The process that does one job: ``python -m formcheck.jobs.worker JOB``.

It draws everything first, saves the review last, and can be killed at any moment: started again, it goes on from the
stored landmarks and never saves the same review twice.
"""

import shutil
import sys
import time
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from formcheck.core.errors import NOT_ENOUGH_MEMORY, ClipError, FormcheckError, StoreError, is_memory_shortage
from formcheck.core.model import Analysis, LandmarkRecording, SetInfo
from formcheck.core.private_files import make_new_files_private
from formcheck.core.seccomp import deny_sockets
from formcheck.exercises import own_files
from formcheck.exercises.schema import Exercise
from formcheck.jobs import background_tasks, queue
from formcheck.jobs.progress import ProgressReporter
from formcheck.jobs.queue import Job, JobRequest, JobStatus
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
from formcheck.storage.jobs import DELETED, name_parts

_TRACKING, _PICTURES = (0.0, queue.TRACKING_SHARE), (queue.TRACKING_SHARE, 0.8)
_CONVERTING, _REPORT = (0.8, 0.96), (0.96, 1.0)
"""Shares of the work, by what they cost on the machines it was tried on."""
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
        return _review(job, reporter), None
    if request.kind == "film":
        return background_tasks.draw_film(request, reporter.of(queue.DRAW, (0.0, 1.0))), None
    judge = background_tasks.judge_test_clip if request.kind == "placement" else background_tasks.suggest_for_clip
    return None, judge(request, reporter.of(queue.TRACK, (0.0, 1.0)))


def _review(job: Job, reporter: ProgressReporter) -> int:
    request, clip = job.request, Path(job.request.clip_path)
    with Store.open() as store:
        # As the client's own limits have it, where a coach has set some.
        known = request.client is not None and store.find_client(request.client) is not None
        exercise = exercise_for(store, request.exercise, request.client if known else None)
    analysis, recording = _analyse_clips(request, exercise, reporter)
    reporter.tracking_done(recording.clip.duration_s, queue.TRACKING_SHARE)
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
        made = ReviewOutputs(analysis, recording, exercise, clip, reviewed_at.astimezone().date())
        draw(drawn, made, clip, reporter)
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
        target = DataFolder(data_home()).artifacts(review_id)
        _move_files(drawn, target)
        try:
            _check_wanted(store, job)
        except StoreError:  # with its client, in the moment between
            if not store.list_reviews(review_id=review_id):
                shutil.rmtree(target.folder, ignore_errors=True)
            raise
    return review_id


def _check_wanted(store: Store, job: Job) -> None:
    """A job deleted with its client leaves nothing behind: no drawing, no review."""
    if not store.holds_claim(job):
        raise StoreError(DELETED)


def _analyse_clips(
    request: JobRequest, exercise: Exercise, reporter: ProgressReporter
) -> tuple[Analysis, LandmarkRecording]:
    """Review one clip, or two of one set, under the names the user knows them by."""
    from formcheck.services.pipeline import review_clip

    analysis, recording = review_clip(
        Path(request.clip_path),
        exercise,
        view=request.view,
        second=None if request.second_path is None else Path(request.second_path),
        set_info=SetInfo(request.load_kg, request.target_reps),
        cache_dir=recordings_folder(),
        on_progress=reporter.of(queue.TRACK, _TRACKING),
    )
    review = replace(analysis.review, clip=replace(analysis.review.clip, name=_name(request.clip_name)))
    if review.second is not None:
        second = replace(review.second.clip, name=_name(request.second_name or ""))
        review = replace(review, second=replace(review.second, clip=second))
    return replace(analysis, review=review), recording


def _name(text: str) -> str:
    return " ".join(text.split())[:200] or "clip"


def draw(out: Artifacts, made: ReviewOutputs, clip: Path, reporter: ProgressReporter) -> None:
    """Make stills, a clip that plays, report and a copy of the landmarks in a folder."""
    from formcheck.pose.recording import save_recording

    out.folder.mkdir(parents=True, exist_ok=True)
    reporter.report(queue.CUT, _PICTURES, 0.0, 1.0)
    made.make_pictures()
    make_playable(out, clip, made.recording.clip.frame_rate, reporter, damaged=made.recording.damage is not None)
    reporter.report(queue.WRITE, _REPORT, 0.0, 1.0)
    made.write_drawn(out)
    save_recording(made.recording, out.recording)


def make_playable(
    out: Artifacts, clip: Path, rate: float, reporter: ProgressReporter, *, damaged: bool = False
) -> None:
    """See to it that a browser can play the clip: as it is, or made anew, as one that is damaged always is."""
    from formcheck.video.browser_playback import plays_in_browser
    from formcheck.video.encoder import write_film

    reporter.report(queue.CONVERT, _CONVERTING, 0.0, 1.0)
    if not damaged and plays_in_browser(clip):
        out.plays_mark.touch()
        return
    write_film(clip, out.film, rate=rate, on_progress=reporter.of(queue.CONVERT, _CONVERTING))


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
        return 0 if run_job(job).state == "done" else 1
    finally:
        with suppress(FormcheckError, OSError):  # whoever asks next sees to it
            queue.next_in_line()
            with queue.open_jobs() as (store, home):
                queue.clear_old_jobs(store, home, data_home(), time.time())


if __name__ == "__main__":
    if "://" not in default_store():  # a database server is reached over the network
        deny_sockets()
    raise SystemExit(main(sys.argv[1:]))
