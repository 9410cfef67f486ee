"""The process that does one job: ``python -m formcheck.jobs.worker FOLDER``.

It writes how far it is, draws everything first, saves the review last, and can be killed at any moment:
started again, it goes on from the kept landmarks and never saves the same review twice.
"""

import json
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path

from formcheck.core.atomic_write import replace_file
from formcheck.core.errors import NOT_ENOUGH_MEMORY, ClipError, FormcheckError, StoreError, is_memory_shortage
from formcheck.core.model import Analysis, LandmarkRecording, SetInfo
from formcheck.core.private_files import keep_new_files_private
from formcheck.core.seccomp import deny_sockets
from formcheck.exercises import own_files
from formcheck.exercises.schema import Exercise
from formcheck.jobs import background_tasks
from formcheck.jobs.listing import clear_old_jobs
from formcheck.jobs.queue import (
    CONVERT,
    CUT,
    DRAW,
    LOOK,
    LOOKING_SHARE,
    WRITE,
    JobRequest,
    JobStatus,
    claim_job,
    next_in_line,
    read_request,
    write_status,
)
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store, StoredReview
from formcheck.storage.data_folder import data_home, default_store, own_exercises_folder, recordings_folder
from formcheck.storage.media_files import Artefacts, artefacts

_LOOKING, _PICTURES, _CONVERTING, _REPORT = (0.0, LOOKING_SHARE), (LOOKING_SHARE, 0.8), (0.8, 0.96), (0.96, 1.0)
"""Shares of the work, by what they cost on the machines it was tried on."""
_QUICK = 0.25
"""Looking that took no longer than this share of the clip's length tells nothing of the pace of the rest: the
landmarks were kept from an earlier look."""
_BEAT_S = 1.0


@dataclass
class Teller:
    """Tells the page how far the work is, and that it is alive."""

    folder: Path
    clock: Callable[[], float] = time.monotonic
    status: JobStatus = field(default_factory=lambda: JobStatus("working", stage="Starting"))

    def __post_init__(self) -> None:
        self._begun = self._paced_from = self.clock()
        self._share_then = 0.0
        self._lock = threading.Lock()
        self._over = threading.Event()
        self._written = float("-inf")
        self._beat = threading.Thread(target=self._keep_beating, daemon=True)
        self._beat.start()

    def tell(self, stage: str, span: tuple[float, float], done: float, total: float | None) -> None:
        """Say where the work is: `done` of `total` seconds of the clip within a stage's span."""
        inside = min(done / total, 1.0) if total else 0.0
        share = span[0] + (span[1] - span[0]) * inside
        now, gone = self.clock(), share - self._share_then
        left = (now - self._paced_from) * (1 - share) / gone if gone > 0.03 else None
        self._write(JobStatus("working", stage, share, left, now - self._begun), soon=inside >= 1.0)

    def looked(self, clip_s: float) -> None:
        """Say that the looking at a clip of this length is over: where it was quick, the pace is taken from now on."""
        now = self.clock()
        if now - self._begun < _QUICK * clip_s:
            self._paced_from, self._share_then = now, LOOKING_SHARE

    def end(self, status: JobStatus) -> None:
        """Say how it ended."""
        self._over.set()
        self._beat.join()
        self._write(replace(status, spent_s=self.clock() - self._begun), soon=True)

    def _write(self, status: JobStatus, *, soon: bool) -> None:
        with self._lock:
            self.status = status
            if soon or self.clock() - self._written > 0.2:
                self._written = self.clock()
                with suppress(FileNotFoundError):  # a job deleted with its client has nobody to tell
                    write_status(self.folder, status)

    def _keep_beating(self) -> None:
        while not self._over.wait(_BEAT_S):
            self._write(self.status, soon=True)


def work(folder: Path) -> JobStatus:
    """Do a job whose claim is held, and return how it ended."""
    teller = Teller(folder)
    try:
        request = read_request(folder)
    except (OSError, ValueError):
        status = JobStatus("failed", problem="The request of this job cannot be read; please start the review again.")
        teller.end(status)
        return status
    try:
        status = JobStatus("done", "Done", 1.0, 0.0, review_id=_do(folder, request, teller))
    except FormcheckError as error:
        status = JobStatus("failed", problem=str(_name_clip(error, request)))
    except OSError as error:
        problem = f"A file could not be read or written: {error.strerror or error}."
        status = JobStatus("failed", problem=NOT_ENOUGH_MEMORY if is_memory_shortage(error) else problem)
    except Exception as error:  # the page must hear of it; the trace goes to the log
        if is_memory_shortage(error):
            status = JobStatus("failed", problem=NOT_ENOUGH_MEMORY)
            teller.end(status)
            return status
        teller.end(JobStatus("failed", problem="Something went wrong inside formcheck; the log of this job says what."))
        raise error
    teller.end(status)
    if request.kind in ("placement", "look"):
        with suppress(FormcheckError):  # what is left goes with the next deletion
            background_tasks.let_go(request)
    return status


def _name_clip(error: FormcheckError, request: JobRequest) -> FormcheckError:
    """The error with the clip's name as the user knows it: a kept upload has its checksum for a name."""
    if not isinstance(error, ClipError) or error.path is None:
        return error
    if request.second_path is not None and error.path.name == Path(request.second_path).name:
        return error.renamed(request.second_name or "the second clip")
    return error.renamed(request.clip_name) if error.path.name == Path(request.clip_path).name else error


def _do(folder: Path, request: JobRequest, teller: Teller) -> int | None:
    """The number of the review worked on, if there is one."""
    if request.kind == "placement":
        background_tasks.judge_test_clip(
            folder, request, lambda done, total: teller.tell(LOOK, (0.0, 1.0), done, total)
        )
        return None
    if request.kind == "look":
        background_tasks.look_at_clip(folder, request, lambda done, total: teller.tell(LOOK, (0.0, 1.0), done, total))
        return None
    if request.kind == "film":
        return background_tasks.draw_film(request, lambda done, total: teller.tell(DRAW, (0.0, 1.0), done, total))
    return _review(folder, request, teller)


def _review(folder: Path, request: JobRequest, teller: Teller) -> int:
    clip = Path(request.clip_path)
    with Store.open(default_store()) as store:
        # As the client's own limits have it, where a coach has set some.
        known = request.client is not None and store.find_client(request.client) is not None
        exercise = exercise_for(store, request.exercise, request.client if known else None)
    analysis, recording = _analysed(request, exercise, teller)
    teller.looked(recording.clip.duration_s)
    with Store.open(default_store()) as store:
        if request.review_id is not None:
            # Drawing again what is stored: the stored findings are shown, whatever today's limits are.
            analysis = replace(analysis, review=store.load_review(request.review_id))
            made = next(iter(store.list_reviews(review_id=request.review_id))).created_at
        else:
            made = _begun(folder)
        drawn = Artefacts(folder / "drawn")
        _check_wanted(folder)
        draw(drawn, analysis, recording, clip, exercise, made, teller)
        review_id = request.review_id or _saved_before(store, analysis, made)
        if review_id is None:
            _check_wanted(folder)
            review_id = store.save_review(
                analysis.review,
                created_at=made,
                client=request.client,
                clip_path=clip,
                session_on=date.fromisoformat(request.session_on) if request.session_on else None,
            )
    _move(drawn, artefacts(data_home(), review_id))
    return review_id


def _check_wanted(folder: Path) -> None:
    """A job deleted with its client leaves nothing behind: no drawing, no review."""
    if not (folder / "request.json").is_file():
        raise StoreError("This review was deleted while it was made.")


def _analysed(request: JobRequest, exercise: Exercise, teller: Teller) -> tuple[Analysis, LandmarkRecording]:
    """Review one clip, or two of one set, under the names the user knows them by."""
    from formcheck.services.pipeline import review_clip, review_two_clips

    clip, info = Path(request.clip_path), SetInfo(request.load_kg, request.target_reps)

    def tell(done: float, total: float | None) -> None:
        teller.tell(LOOK, _LOOKING, done, total)

    if request.second_path is None:
        made = review_clip(
            clip, exercise, view=request.view, set_info=info, cache_dir=recordings_folder(), on_progress=tell
        )
    else:
        made = review_two_clips(
            (clip, Path(request.second_path)),
            exercise,
            views=(request.view, "auto"),
            set_info=info,
            cache_dir=recordings_folder(),
            on_progress=tell,
        )
    analysis, recording = made
    review = replace(analysis.review, clip=replace(analysis.review.clip, name=_name(request.clip_name)))
    if review.second is not None:
        second = replace(review.second.clip, name=_name(request.second_name or ""))
        review = replace(review, second=replace(review.second, clip=second))
    return replace(analysis, review=review), recording


def _name(text: str) -> str:
    return " ".join(text.split())[:200] or "clip"


def draw(
    out: Artefacts,
    analysis: Analysis,
    recording: LandmarkRecording,
    clip: Path,
    exercise: Exercise,
    made: datetime,
    teller: Teller,
) -> None:
    """Make stills, a clip that plays, report and a copy of the landmarks in a folder."""
    from formcheck.pose.recording import save_recording
    from formcheck.report.figures import key_pictures
    from formcheck.report.html_report import write_report

    out.folder.mkdir(exist_ok=True)
    reps = analysis.review.reps
    teller.tell(CUT, _PICTURES, 0.0, 1.0)
    pictures = key_pictures(clip, recording, reps)
    tops = {item.rep: item.data_uri for item in pictures if item.moment == "top"}
    replace_file(out.pictures_file, json.dumps(tops))
    make_playable(out, clip, recording.clip.frame_rate, teller, damaged=recording.damage is not None)
    teller.tell(WRITE, _REPORT, 0.0, 1.0)
    write_report(
        analysis, recording, clip, out.report, exercise, pictures=pictures, reviewed_on=made.astimezone().date()
    )
    save_recording(recording, out.recording)


def make_playable(out: Artefacts, clip: Path, rate: float, teller: Teller, *, damaged: bool = False) -> None:
    """See to it that a browser can play the clip: as it is, or made anew, as one that is damaged always is."""
    from formcheck.video.browser_playback import plays_in_browser
    from formcheck.video.encoder import write_plain

    teller.tell(CONVERT, _CONVERTING, 0.0, 1.0)
    if not damaged and plays_in_browser(clip):
        out.plays_mark.touch()
        return
    write_plain(
        clip,
        out.film,
        rate=rate,
        on_progress=lambda done, total: teller.tell(CONVERT, _CONVERTING, done, total),
    )


def _begun(folder: Path) -> datetime:
    """When the job was first begun: the same after a restart, so that a saved review is known again."""
    mark = folder / "begun"
    if not mark.exists():
        replace_file(mark, datetime.now(UTC).isoformat())
    return datetime.fromisoformat(mark.read_text(encoding="utf-8"))


def _saved_before(store: Store, analysis: Analysis, made: datetime) -> int | None:
    review = analysis.review
    rows: list[StoredReview] = store.list_reviews(clip_sha256=review.clip.sha256, exercise_id=review.exercise.id)
    return next((row.id for row in rows if row.created_at == made), None)


def _move(drawn: Artefacts, place: Artefacts) -> None:
    place.folder.mkdir(parents=True, exist_ok=True)
    for path in drawn.folder.iterdir():
        path.replace(place.folder / path.name)


def main(arguments: list[str]) -> int:
    """Do the job in the given folder; 0 when it was done, 1 when not, 2 for a wrong call."""
    if len(arguments) != 1 or not (folder := Path(arguments[0])).is_dir():
        sys.stderr.write("usage: python -m formcheck.jobs.worker FOLDER\n")
        return 2
    keep_new_files_private()
    own_files.use_folder(own_exercises_folder)
    if not claim_job(folder):
        return 0
    for half in folder.glob(".*.json.*"):  # of one that was killed while it wrote
        half.unlink(missing_ok=True)
    try:
        return 0 if work(folder).state == "done" else 1
    finally:
        next_in_line(folder.parent.parent)
        _clear(folder.parent.parent)


def _clear(home: Path) -> None:
    """Take away the jobs that are long over; what cannot be taken away now goes another time."""
    with suppress(FormcheckError, OSError), Store.open(default_store()) as store:
        clear_old_jobs(home, store, time.time())


if __name__ == "__main__":
    if "://" not in default_store():  # a database server is reached over the network
        deny_sockets()
    raise SystemExit(main(sys.argv[1:]))
