"""Third step of a review: the result, with the clip, the findings, the reps and the curves tied together."""

from contextlib import nullcontext
from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from formcheck.core.errors import FormcheckError, StoreError
from formcheck.core.model import SIDES, Analysis, LandmarkRecording, Review
from formcheck.exercises.registry import list_general_cautions
from formcheck.exercises.schema import Exercise
from formcheck.report import explanations, problem_text, summary, wording
from formcheck.report.figures import describe_curve
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.phases import choose_signals, list_curve_keys
from formcheck.report.wording import describe_second
from formcheck.reps.edits import set_exercise
from formcheck.services.delete import delete_review_data
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store
from formcheck.storage.data_folder import Artifacts, DataFolder, data_home
from formcheck.web import controls, layout
from formcheck.web.charts import angle_curves
from formcheck.web.components import review_html
from formcheck.web.components.player import find_lift_curve, make_player_data, mount_player, pack_landmark_track
from formcheck.web.correction.save import save_correction
from formcheck.web.pages import PAGES
from formcheck.web.review import client_of_set, downloads, lifter_note, missing_drawings, renewal
from formcheck.web.session_state import open_in_page, page_state
from formcheck.web.stored_reviews import load_review_curves

if TYPE_CHECKING:
    import plotly.graph_objects as go

SCOPE, CLIP = "fc_result", "fc_clip"


class OpenedReview(NamedTuple):
    """A stored review with what it takes to show it."""

    number: int
    review: Review
    clip_path: str | None
    exercise: Exercise | None
    """Today's file of the exercise, with own limits; None when it is no longer there."""
    drawn: Artifacts

    @property
    def first(self) -> angle_curves.First:
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
    review = opened.review
    analysis, recording = _load_analysis(opened)
    with st.container(key=SCOPE):
        left, right = st.columns([5, 8], gap="large")
        with left:
            _show_clip(opened, analysis, recording)
        with right:
            st.html(review_html.render_summary(review, opened.exercise))
            _show_problems(review_id, review)
            renewal.show(review_id, review)
            if review.by_hand:
                st.html(review_html.render_corrections(review.by_hand))
            controls.show_link("correct_by_hand", "Correct by hand", "edit", review=review_id)
            lifter_note.warn(review_id)
            _show_findings(review, opened.exercise)
            if review.reps:
                _show_reps(opened)
            if analysis is not None:
                _show_curves(opened, analysis)
            layout.show_cautions([text for text in review.cautions if text not in list_general_cautions()])
            _show_footer(review)
            lifter_note.show(review_id)
            client_of_set.show(review_id)
            downloads.show(review_id, review, opened.clip_path, opened.drawn)
            _offer_deletion(review_id)


def open_review(review_id: int) -> OpenedReview:
    """Fetch a review from the store (StoreError when there is none of this number)."""
    exercise = None
    with Store.open() as store:
        review = store.load_review(review_id)
        row = store.list_reviews(review_id=review_id)[0]
        try:
            exercise = exercise_for(store, review.exercise.id, row.client_id)
        except FormcheckError as error:
            st.warning(layout.escape_markdown(f"{error} What was measured is shown as it was kept."))
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


def _show_clip(opened: OpenedReview, analysis: Analysis | None, recording: LandmarkRecording | None) -> None:
    playable = opened.drawn.playable(opened.clip_path)
    if playable is None:
        missing_drawings.show(opened.number, opened.review, opened.clip_path, opened.drawn)
        return
    with st.container(key=CLIP):
        st.video(str(playable), format="video/mp4", muted=True, alt="The clip of the set")
    drawn_in = playable == opened.drawn.overlay
    track = pack_landmark_track(recording) if recording is not None and not drawn_in else None
    measures = summary.choose_main_columns(opened.review, opened.exercise)[:1]
    curve = find_lift_curve(analysis, *measures) if analysis is not None else None
    data = make_player_data(opened.review, opened.first, scope=SCOPE, clip=CLIP, track=track, curve=curve)
    mount_player(data, key="fc_player")
    missing_drawings.show(opened.number, opened.review, opened.clip_path, opened.drawn)


def _show_problems(review_id: int, review: Review) -> None:
    """Every problem; where the clip looks like another exercise, buttons to review it as that, or as it was asked."""
    sentences = problem_text.describe_problems(review)
    if not sentences:
        return
    st.html(review_html.render_problems(problem_text.describe_problem_heading(review), sentences))
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


def _show_findings(review: Review, exercise: Exercise | None) -> None:
    cue = choose_next_cue(review, exercise)
    if cue is not None:
        st.html(review_html.render_next_cue(cue))
    groups = summary.group_findings(review, exercise)
    faults = groups["not_met"] or groups["probably_not_met"]
    for grade, items in groups.items():
        if not items:
            continue
        if grade == "unseen":
            st.html(review_html.render_grade_heading(grade, 0))
            st.html(review_html.render_unseen(items, summary.list_untold(review, exercise)))
            continue
        points = sum(item.points for item in items)
        st.html(review_html.render_grade_heading(grade, points))
        words = f"Show {wording.count(points, 'point')}: {wording.GRADE_WORDS[grade].lower()}"
        folded = grade in ("met", "probably_met")
        with st.expander(words, expanded=not faults) if folded else nullcontext():
            st.html(review_html.render_findings(items))
    if not review.reps and exercise:
        st.info(exercise.filming.advice)


def _show_reps(opened: OpenedReview) -> None:
    review = opened.review
    columns = summary.choose_main_columns(review, opened.exercise)
    rows = summary.make_rep_rows(review, columns)
    layout.show_section("Rep by rep")
    about = {name: explanations.explain_measure(name, review) for name in columns}
    st.html(review_html.render_rep_strip(rows, opened.drawn.top_pictures(), about))
    with st.expander("All reps in a table"):
        st.html(review_html.render_rep_table(rows, columns, about, marks=wording.explain_marks(review)))
    names = {name: wording.capitalise(wording.get_measure_name(name)) for name in summary.list_columns(review)}
    if names:
        box = st.expander("One number from rep to rep", on_change="rerun", key="rep_numbers")
        if box.open:  # drawn only when it is wanted: a chart costs the browser more than the rest of the page
            with box:
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
    names = choose_signals(analysis)
    if not names:
        return
    layout.show_section("The movement over time")
    path = opened.drawn.recording
    state = f"{path} {path.stat().st_mtime_ns if path.is_file() else 0} {opened.exercise} {opened.review.reps}"
    drawn_sides = {side for _, side in list_curve_keys(analysis, names)}
    sides = [side for side in SIDES if side in drawn_sides]
    st.html(review_html.render_curve_legend(sides, phases=bool(opened.review.reps)))
    for name in names:
        title = wording.capitalise(wording.get_signal_name(name))
        st.html(review_html.render_curve_title(title, explanations.explain_signal(name, opened.review)))
        figure = _draw_curve(state, name, opened.first, layout.is_dark(), analysis)
        layout.show_chart(figure, key=f"curve_{name}", alt=describe_curve(analysis, name))
    st.caption("Click a curve to move the clip there.")


@st.cache_resource(max_entries=32, show_spinner=False)
def _draw_curve(state: str, name: str, first: angle_curves.First, dark: bool, _analysis: Analysis) -> "go.Figure":
    """One curve, drawn once for a state of the review: making it takes most of the time a review needs to open."""
    return angle_curves.draw_curve(_analysis, name, first=first, dark=dark)


def _show_footer(review: Review) -> None:
    view = [] if problem_text.is_review_blocked(review) else [wording.explain_view(review.view)]
    with st.expander("Camera, picture and what this clip cannot show"):
        st.html(review_html.render_list([*view, *wording.describe_quality(review.quality), *describe_second(review)]))
        missing = summary.list_missing_measures(review)
        if missing:
            st.html(review_html.render_definitions(missing))
    with st.expander("How to read the numbers"):
        st.html(review_html.render_definitions(wording.READING))


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
