"""One stored review made into what is handed to the lifter: the report for a screen or for paper, the clip."""

import json
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from formcheck.core.atomic_write import replace_file
from formcheck.core.errors import ClipError, OutputError
from formcheck.core.model import Analysis, LandmarkRecording, ProgressReport
from formcheck.exercises.schema import Exercise
from formcheck.report.front_page import SetContext, choose_pictures
from formcheck.services.stored_analysis import load_stored_analysis
from formcheck.services.thumbnail import make_thumbnail
from formcheck.storage import Store, StoredReview
from formcheck.storage.data_folder import Artifacts, DataFolder

if TYPE_CHECKING:
    from formcheck.report.body_marks import BodyMark
    from formcheck.report.figures import KeyPicture
    from formcheck.report.overlay import FilmPart


@dataclass(frozen=True, eq=False)
class ReviewOutputs:
    """A review with what it takes to draw it."""

    analysis: Analysis
    """The stored review, corrected where it was, with the curves it was read from."""
    recording: LandmarkRecording
    exercise: Exercise
    clip: Path | None
    """The clip, when it is still the one that was reviewed."""
    reviewed_on: date | None
    """The day printed in the report."""
    faces_file: Path | None = None
    """The file in which faces found in the clip are stored."""
    context: SetContext = field(default_factory=SetContext)
    """Whose set it is, what was planned and what the coach says of it."""
    _stills: "dict[bool, list[KeyPicture]]" = field(default_factory=dict)
    """The key frames with and without faces, made once."""

    def report_html(self, *, blur_faces: bool = False) -> str:
        """The report as one HTML file; without key frames where the clip is gone or cannot be read."""
        from formcheck.report.set_report import render_report

        pictures, context = self.pictures(blur_faces=blur_faces), self._draw_comments(blur_faces=blur_faces)
        return render_report(self.analysis, self.exercise, pictures, context=context, reviewed_on=self.reviewed_on)

    def report_pdf(self, *, blur_faces: bool = False) -> bytes:
        """The same report for paper."""
        from formcheck.report.set_report import render_pdf

        pictures, context = self.pictures(blur_faces=blur_faces), self._draw_comments(blur_faces=blur_faces)
        return render_pdf(self.analysis, self.exercise, pictures, context=context, reviewed_on=self.reviewed_on)

    def write_drawn(self, drawn: Artifacts) -> None:
        """Write the stills and the report shown beside the review (OSError)."""
        stills = choose_pictures(self.pictures())
        replace_file(drawn.pictures_file, json.dumps({rep: item.data_uri for rep, item in stills.items()}))
        replace_file(drawn.report, self.report_html())
        drawn.thumbnail.unlink(missing_ok=True)
        make_thumbnail(drawn)

    def write_film(
        self,
        out: Path,
        *,
        skeleton: bool = True,
        blur_faces: bool = False,
        part: "FilmPart | None" = None,
        on_progress: ProgressReport | None = None,
    ) -> None:
        """Write the clip or a part of it as a film, with skeleton and reps named in it or as it is.

        Raises ClipError and OutputError.
        """
        from formcheck.report.overlay import make_captions, write_overlay

        if self.clip is None:
            raise OutputError("The clip is not where it was when it was reviewed, so no film can be made of it.")
        captions = make_captions(self.analysis.review.reps, self.exercise.driver.first) if skeleton else ()
        write_overlay(
            self.clip,
            self.recording,
            out,
            captions=captions,
            marks=self._make_marks() if skeleton else (),
            skeleton=skeleton,
            blur_faces=blur_faces,
            faces_file=self.faces_file,
            on_progress=on_progress,
            part=part,
        )

    def pictures(self, *, blur_faces: bool = False) -> "list[KeyPicture]":
        """The key frames; none where the clip is gone or cannot be read."""
        try:
            return self.make_pictures(blur_faces=blur_faces)
        except ClipError:
            return self._stills.setdefault(blur_faces, [])

    def make_pictures(self, *, blur_faces: bool = False) -> "list[KeyPicture]":
        """The key frames; none where the clip is gone (ClipError when it cannot be read)."""
        from formcheck.report.figures import draw_key_pictures
        from formcheck.report.front_page import choose_still_rep

        if self.clip is None:
            return []
        if blur_faces not in self._stills:
            self._stills[blur_faces] = draw_key_pictures(
                self.clip,
                self.recording,
                self.analysis.review.reps,
                marks=self._make_marks(),
                large=choose_still_rep(self.analysis.review, self.exercise),
                blur_faces=blur_faces,
                faces_file=self.faces_file,
            )
        return self._stills[blur_faces]

    def _draw_comments(self, *, blur_faces: bool) -> SetContext:
        """The context with the pictures that the coach drew on; without them where the clip is gone."""
        from formcheck.report.comment_pictures import draw_comment_pictures

        if self.clip is None:
            return self.context
        try:
            drawings = draw_comment_pictures(
                self.clip, self.recording, self.context.comments, blur_faces=blur_faces, faces_file=self.faces_file
            )
        except ClipError:
            return self.context
        return replace(self.context, drawings=drawings)

    def _make_marks(self) -> "tuple[BodyMark, ...]":
        """What is drawn on the body: the number of the next cue, rep by rep."""
        from formcheck.report.body_marks import make_trend_marks
        from formcheck.report.cue_trend import make_cue_trend
        from formcheck.report.next_cue import choose_next_cue

        review = self.analysis.review
        trend = make_cue_trend(review, self.exercise, choose_next_cue(review, self.exercise))
        return () if trend is None else make_trend_marks(self.analysis, self.recording, trend)


def load_review_outputs(
    store: Store, review_id: int, home: Path, *, recording: LandmarkRecording | None = None
) -> ReviewOutputs:
    """Fetch a review for handing over.

    Parameters
    ----------
    home : formcheck's data folder.
    recording : the landmarks, when they are at hand already.

    Raises StoreError when there is no such review, RecordingError when its landmarks are not kept any more.
    """
    found = load_stored_analysis(store, review_id, home, recording=recording)
    (row,) = store.list_reviews(review_id=review_id)
    clip, faces = find_unchanged_clip(row.clip_path, row.clip_sha256), DataFolder(home).artifacts(review_id).faces
    day = row.created_at.astimezone().date()
    context = find_context(store, row)
    return ReviewOutputs(found.analysis, found.recording, found.exercise, clip, day, faces, context)


def find_context(store: Store, row: StoredReview) -> SetContext:
    """What the store knows of a set beside its review (StoreError)."""
    held = None if row.client_id is None else store.plan_of(row.client_id, row.exercise_id, on=row.session_on)
    plan = None if held is None else held.plan
    comments = tuple(item.comment for item in store.comments_of(row.id))
    return SetContext(row.client or "", row.session_on, row.set_number, plan, comments)


def find_unchanged_clip(path: str | None, sha256: str) -> Path | None:
    """The clip, when it is still there and still the same; else None."""
    from formcheck.video.clip_file import compute_clip_sha256

    clip = None if path is None else Path(path)
    try:
        return clip if clip is not None and clip.is_file() and compute_clip_sha256(clip) == sha256 else None
    except (OSError, ClipError):
        return None
