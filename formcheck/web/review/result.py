"""Third step of a review: the result, with the clip, the findings, the reps and the curves tied together."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from formcheck.core.errors import FormcheckError, StoreError
from formcheck.core.model import SIDES, Analysis, LandmarkRecording, Review
from formcheck.exercises.registry import list_general_cautions
from formcheck.exercises.schema import Exercise
from formcheck.report import explanations, problem_text, summary, wording
from formcheck.report.body_marks import BodyMark, make_moment_mark, make_trend_marks
from formcheck.report.cue_trend import CueTrend, make_cue_trend, make_point_trend
from formcheck.report.figures import describe_curve
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.phases import FirstPhase, choose_signals, list_curve_keys
from formcheck.report.trend_chart import describe_trend
from formcheck.report.wording import describe_second
from formcheck.reps.edits import set_exercise
from formcheck.services.delete import delete_review_data
from formcheck.services.own_limits import exercise_for
from formcheck.services.reference_rep import attach_reference
from formcheck.storage import Store
from formcheck.storage.data_folder import Artifacts, DataFolder, data_home
from formcheck.web import controls, layout
from formcheck.web.charts import angle_curves
from formcheck.web.charts.trend import draw_trend
from formcheck.web.components.player import find_lift_curve, make_player_data, mount_player, pack_landmark_track
from formcheck.web.components.player.follow import find_lifter_window
from formcheck.web.components.rep_cards import make_rep_cards, render_rep_strip
from formcheck.web.correction.save import save_correction
from formcheck.web.markup import render
from formcheck.web.pages import PAGES
from formcheck.web.review import (
    answers,
    at_moment,
    client_of_set,
    coach_comments,
    downloads,
    lifter_note,
    missing_drawings,
    renewal,
)
from formcheck.web.session_state import open_in_page, page_state
from formcheck.web.stored_reviews import load_review_curves

if TYPE_CHECKING:
    import plotly.graph_objects as go

SCOPE, VIEWER, CLIP = "fc_result", "fc_viewer", "fc_clip"


class OpenedReview(NamedTuple):
    """A stored review with what it takes to show it."""

    number: int
    review: Review
    clip_path: str | None
    exercise: Exercise | None
    """Today's file of the exercise, with own limits; None when it is no longer there."""
    drawn: Artifacts

    @property
    def first(self) -> FirstPhase:
        """The phase each rep begins with."""
        return self.exercise.driver.first if self.exercise else "concentric"


def show(review_id: int) -> None:
    """Show a stored review (StoreError when there is none of this number); a damaged one can be deleted."""
    try:
        opened = open_review(review_id)
    except StoreError as error:
        with Store.open() as store:
            if not store.list_reviews(review_id=review_id):
                raise
        st.error(layout.escape_markdown(f"{error} A backup may hold it whole; here it can only be deleted."))
        _offer_deletion(review_id)
        return
    review, exercise = opened.review, opened.exercise
    analysis, recording = _load_analysis(opened)
    cue = choose_next_cue(review, exercise)
    trend = make_cue_trend(review, exercise, cue)
    given = answers.load_answers(review_id, review)
    answers.take(SCOPE, review_id, review, given)
    with st.container(key=SCOPE):
        left, right = st.columns([5, 7], gap="medium")
        with left:
            st.html(render("review", "skip_film"))
            marks = _show_clip(opened, analysis, recording, trend)
        with right, st.container(gap="xsmall"):
            st.html(render("review", "title", review.exercise.name))
            _show_problems(review_id, review)
            renewal.show(review_id, review)
            if review.by_hand:
                st.html(render("review", "corrections", review.by_hand))
            lifter_note.warn(review_id)
            if cue is not None:
                st.html(render("review", "next_cue", cue))
            if trend is not None:
                _show_trend(trend, review)
            moments = {mark.rep: mark.at_s for mark in marks if trend is not None and mark.check == trend.check.id}
            cards = make_rep_cards(review, trend, opened.first, moments)
            if cards:
                name, pictures = "" if trend is None else trend.name, opened.drawn.top_pictures()
                with st.container(key="fc_cards"):
                    st.html(render_rep_strip(cards, pictures, name, given.pressed, given.own))
            answers.show_reference(given)
            if opened.drawn.playable(opened.clip_path) is not None:
                with st.container(key="fc_at_moment", gap="xsmall"):
                    at_moment.show(review_id, review, CLIP, opened.clip_path)
            _show_outcome(review)
            _show_findings(review, exercise, given.pressed)
            answers.show(review_id, review, exercise, given)
            _show_cautions(review)
            if review.reps:
                _show_numbers(opened)
            if analysis is not None:
                _show_curves(opened, analysis)
            _show_footer(review)
            coach_comments.show(review_id)
            client_of_set.show(review_id)
            lifter_note.show(review_id)
            with st.expander("Share: report, film, numbers"):
                downloads.show(review_id, review, opened.clip_path, opened.drawn)
            _offer_deletion(review_id)


def open_review(review_id: int) -> OpenedReview:
    """Fetch a review from the store (StoreError when there is none of this number)."""
    exercise = None
    with Store.open() as store:
        review = attach_reference(store, review_id, store.load_review(review_id))
        row = store.list_reviews(review_id=review_id)[0]
        try:
            exercise = exercise_for(store, review.exercise.id, row.client_id)
        except FormcheckError as error:
            st.warning(layout.escape_markdown(f"{error} The stored numbers are shown."))
    return OpenedReview(review_id, review, row.clip_path, exercise, DataFolder(data_home()).artifacts(review_id))


def _load_analysis(opened: OpenedReview) -> tuple[Analysis | None, LandmarkRecording | None]:
    """Curves and landmarks of the stored review; None, and a sentence on the page, where they cannot be had.

    No curves of a review from which nothing may be concluded.
    """
    if opened.exercise is None:
        return None, None
    curves = load_review_curves(opened.number)
    if curves.problem is not None and opened.drawn.recording.is_file():
        st.error(layout.escape_markdown(curves.problem))
    if curves.found is None:
        return None, None
    blocked = problem_text.is_review_blocked(opened.review)
    return None if blocked else curves.found.analysis, curves.found.recording


def _show_clip(
    opened: OpenedReview, analysis: Analysis | None, recording: LandmarkRecording | None, trend: CueTrend | None
) -> tuple[BodyMark, ...]:
    """The film with its controls; what is drawn on the body in it."""
    review, exercise = opened.review, opened.exercise
    playable = opened.drawn.playable(opened.clip_path)
    marks: tuple[BodyMark, ...] = ()
    if analysis is not None and recording is not None and exercise is not None:
        marks = _make_marks(_describe_state(opened), analysis, recording, exercise, trend)
    if playable is None:
        missing_drawings.show(opened.number, review, opened.clip_path, opened.drawn)
        return marks
    drawn_in = playable == opened.drawn.overlay
    around = find_lifter_window(recording, review.reps) if recording is not None else None
    measure = trend.check.measure if trend is not None else None
    limit = trend.check.limit if trend is not None and not trend.check.absolute else None
    data = make_player_data(
        review,
        opened.first,
        scope=SCOPE,
        viewer=VIEWER,
        clip=CLIP,
        track=pack_landmark_track(recording) if recording is not None and not drawn_in else None,
        curve=find_lift_curve(analysis, measure, limit) if analysis is not None else None,
        around=around,
        marks=() if drawn_in else marks,
        recording=recording,
        check=trend.check.id if trend is not None else "",
    )
    with st.container(key=VIEWER, gap="small"):
        with st.container(key=CLIP):
            st.video(str(playable), format="video/mp4", muted=True, alt="The clip of the set")
        mount_player(data=data, key="fc_player")
    missing_drawings.show(opened.number, review, opened.clip_path, opened.drawn)
    return marks


@st.cache_resource(max_entries=16, show_spinner=False)
def _make_marks(
    state: str, _analysis: Analysis, _recording: LandmarkRecording, _exercise: Exercise, _trend: CueTrend | None
) -> tuple[BodyMark, ...]:
    """What is drawn on the body: the cue's number in every rep, and each finding's where it is shown."""
    marks = make_trend_marks(_analysis, _recording, _trend) if _trend is not None else ()
    known = {mark.check for mark in marks}
    for finding in _analysis.review.findings:
        if finding.at_s is None or finding.check in known:
            continue
        trend = make_point_trend(_analysis.review, _exercise, finding.check)
        mark = None if trend is None else make_moment_mark(_analysis, _recording, trend, finding.at_s)
        marks = marks if mark is None else (*marks, mark)
    return marks


def _describe_state(opened: OpenedReview) -> str:
    """Changes with whatever is drawn of a review's curves and landmarks."""
    path = opened.drawn.recording
    moved = path.stat().st_mtime_ns if path.is_file() else 0
    return f"{path} {moved} {opened.exercise} {opened.review.reps} {opened.review.findings}"


def _show_problems(review_id: int, review: Review) -> None:
    """Every problem; where the clip looks like another exercise, buttons to review it as that, or as it was asked."""
    sentences = problem_text.describe_problems(review)
    if not sentences:
        return
    st.html(render("review", "problems", problem_text.describe_problem_heading(review), sentences))
    other = problem_text.find_likely_exercise(review)
    if other is None:
        return
    chosen = None
    with st.container(horizontal=True):
        if st.button(f"Review it as {problem_text.get_exercise_name(other)}", type="primary", key="review_as_other"):
            chosen = other
        asked = problem_text.are_reps_doubted(review)
        if asked and st.button(f"It is {review.exercise.name}", key="review_as_asked"):
            chosen = review.exercise.id
    if chosen is not None:
        with Store.open() as store:
            edits = store.edits_of(review_id)
        save_correction(review_id, set_exercise(edits, chosen))


def _show_trend(trend: CueTrend, review: Review) -> None:
    """The trend chart with its name, its target and what came of the set."""
    about = explanations.explain_measure(trend.check.measure, review)
    with st.container(key="trend_chart", gap=None):
        st.html(render("review", "trend_heading", trend, about))
        figure = draw_trend(trend, dark=layout.is_dark())
        layout.show_chart(figure, key="fc_trend", alt=describe_trend(trend))
        if trend.caption:
            st.html(render("review", "trend_caption", trend.caption))


def _show_outcome(review: Review) -> None:
    """How many reps there are, and what was reviewed; headings below count the points."""
    side = "" if problem_text.is_review_blocked(review) else wording.describe_view(review.view)
    facts = [f"“{review.clip.name}”", wording.format_load(review.set_info.load_kg), side]
    st.html(render("review", "outcome", facts, wording.describe_reps(review)))


def _show_findings(review: Review, exercise: Exercise | None, given: Mapping[str, bool]) -> None:
    """Every point, a line each: those to change in sight, the others under one line a grade."""
    groups = summary.group_findings(review, exercise)
    for grade, items in groups.items():
        points = sum(item.points for item in items)
        if grade in ("not_met", "probably_not_met") and items:
            st.html(render("review", "grade_heading", grade, points) + render("review", "findings", items, given))
        elif grade != "unseen" and items:
            st.html(render("review", "folded_findings", grade, points, items, given))
    if groups["unseen"]:
        film = next(iter(summary.list_what_to_film(review, exercise)), "")
        amount = wording.count_grades(review)["unseen"]
        untold = summary.list_untold(review, exercise)
        st.html(render("review", "unseen", amount, film[:1].lower() + film[1:], groups["unseen"], untold))
    if not review.reps and exercise:
        st.info(exercise.filming.advice)


def _show_cautions(review: Review) -> None:
    """One line, once the cautions were read; until then those of the exercise in full."""
    if DataFolder(data_home()).cautions_read.exists():
        layout.show_cautions(link="All cautions")
    else:
        layout.show_cautions([text for text in review.cautions if text not in list_general_cautions()])


def _show_numbers(opened: OpenedReview) -> None:
    """Every number of every rep, in a table and from rep to rep; drawn only when it is wanted."""
    review = opened.review
    columns = summary.choose_main_columns(review, opened.exercise)
    about = {name: explanations.explain_measure(name, review) for name in columns}
    names = {name: wording.capitalise(wording.get_plain_name(name)) for name in summary.list_columns(review)}
    box = st.expander("All numbers, rep by rep", on_change="rerun", key="rep_numbers")
    if not box.open:
        return
    with box:
        rows = summary.make_rep_rows(review, columns)
        st.html(render("review", "rep_table", rows, columns, about, wording.explain_marks(review)))
        if names:
            _show_rep_chart(review, opened.exercise, names, columns[0] if columns else None)


def _show_rep_chart(review: Review, exercise: Exercise | None, names: dict[str, str], wanted: str | None) -> None:
    name = controls.choose_from_list("Number", names, key="rep_measure", wanted=wanted)
    st.caption(explanations.explain_measure(name, review))
    checks = [check for check in (exercise.checks if exercise else ()) if check.measure == name and not check.absolute]
    limits = [(wording.format_check_limit(check), check.limit) for check in checks]
    figure = angle_curves.draw_rep_measures(review, name, limits=limits, dark=layout.is_dark())
    if figure is not None:
        layout.show_chart(figure, key="rep_chart", alt=f"{names[name]} of each rep with its margin")


def _show_curves(opened: OpenedReview, analysis: Analysis) -> None:
    """The angles over the whole set, each with its limit; drawn only when they are wanted."""
    names = choose_signals(analysis)
    if not names:
        return
    box = st.expander("The movement over time", on_change="rerun", key="curves")
    if not box.open:
        return
    with box:
        drawn_sides = {side for _, side in list_curve_keys(analysis, names)}
        sides = [side for side in SIDES if side in drawn_sides]
        st.html(render("review", "curve_legend", sides, bool(opened.review.reps)))
        for name in names:
            title = wording.capitalise(wording.get_signal_name(name))
            st.html(render("review", "curve_title", title, explanations.explain_signal(name, opened.review)))
            figure = _draw_curve(
                _describe_state(opened), name, opened.first, layout.is_dark(), analysis, opened.exercise
            )
            layout.show_chart(figure, key=f"curve_{name}", alt=describe_curve(analysis, name))
        st.caption("Click a curve to move the clip there.")


@st.cache_resource(max_entries=32, show_spinner=False)
def _draw_curve(
    state: str, name: str, first: FirstPhase, dark: bool, _analysis: Analysis, _exercise: Exercise | None
) -> "go.Figure":
    """One curve, drawn once for a state of the review: making it takes most of the time a review needs to open."""
    limits = angle_curves.list_limits(name, _exercise.checks if _exercise is not None else ())
    return angle_curves.draw_curve(_analysis, name, limits=limits, first=first, dark=dark)


def _show_footer(review: Review) -> None:
    view = [] if problem_text.is_review_blocked(review) else [wording.explain_view(review.view)]
    with st.expander("Camera, picture and how to read the numbers"):
        lines = [*view, *wording.describe_quality(review.quality), *describe_second(review)]
        st.html(render("pieces", "list", lines))
        missing = summary.list_missing_measures(review)
        st.html(render("pieces", "definitions", [*missing, *wording.READING]))


def _offer_deletion(review_id: int) -> None:
    """Delete a review for good, with what was drawn for it and what only it needs; behind a box to be ticked."""
    with st.expander("Delete this review"):
        st.html(
            "<p>Numbers, corrections, note, drawn results, body points and formcheck’s copy of the clip go for good. "
            "A clip of your own stays where it is, and so does what another review needs.</p>"
        )
        sure = st.checkbox("Yes, for good", key=f"sure_{review_id}")
        if st.button("Delete this review", disabled=not sure, key="delete_review") and sure:
            with layout.show_errors():
                with Store.open() as store:
                    delete_review_data(store, review_id, data_home())
                open_in_page()
                page_state().pending_message = "The review is deleted."
                st.switch_page(PAGES / "reviewed_sets.py")
