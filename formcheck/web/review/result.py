"""Third step of a review: the result, with the clip, the findings, the reps and the curves tied together."""

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from formcheck.core.errors import FormcheckError, StoreError
from formcheck.core.model import Analysis, LandmarkRecording, Review
from formcheck.exercises.registry import general_cautions
from formcheck.exercises.schema import Exercise
from formcheck.report import explanations, summary, wording
from formcheck.report.figures import curve_alt
from formcheck.report.next_cue import next_cue
from formcheck.report.phases import curve_keys, shown_signals
from formcheck.report.problem_text import review_blocked
from formcheck.report.second_camera import second_lines
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store
from formcheck.storage.data_folder import Artifacts, DataFolder, data_home, default_store
from formcheck.web import layout
from formcheck.web.charts import angle_curves
from formcheck.web.components import review_html
from formcheck.web.components.player import find_lift_curve, make_player_data, mount_player, pack_landmark_track
from formcheck.web.review import client_of_set, corrections_made, delete, downloads, lifter_note, problems, redraw
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
        with Store.open(default_store()) as store:
            if not store.list_reviews(review_id=review_id):
                raise
        st.error(layout.escape_markdown(f"{error} A backup may hold it whole; here it can only be deleted."))
        delete.show(review_id)
        return
    analysis, recording = _load_analysis(opened)
    with st.container(key=SCOPE):
        left, right = st.columns([5, 8], gap="large")
        with left:
            _show_clip(opened, analysis, recording)
        with right:
            st.html(review_html.render_summary(opened.review))
            problems.show(review_id, opened.review)
            corrections_made.show(opened.number, opened.review)
            lifter_note.warn(review_id)
            _show_findings(opened.review, opened.exercise)
            if opened.review.reps:
                _show_reps(opened)
            _show_curves(opened, analysis)
            layout.show_cautions([text for text in opened.review.cautions if text not in general_cautions()])
            _show_footer(opened.review)
            lifter_note.show(review_id)
            client_of_set.show(review_id)
            downloads.show(review_id, opened.review, opened.clip_path, opened.drawn)
            delete.show(review_id)


def open_review(review_id: int) -> OpenedReview:
    """Fetch a review from the store (StoreError when there is none of this number)."""
    with Store.open(default_store()) as store:
        review = store.load_review(review_id)
        row = store.list_reviews(review_id=review_id)[0]
        exercise, problem = None, None
        try:
            exercise = exercise_for(store, review.exercise.id, row.client_id)
        except FormcheckError as error:
            problem = str(error)
    if problem is not None:
        st.warning(layout.escape_markdown(f"{problem} What was measured is shown as it was kept."))
    return OpenedReview(review_id, review, row.clip_path, exercise, DataFolder(data_home()).artifacts(review_id))


def _show_clip(opened: OpenedReview, analysis: Analysis | None, recording: LandmarkRecording | None) -> None:
    playable = opened.drawn.playable(opened.clip_path)
    if playable is None or not opened.drawn.complete:
        redraw.show(opened.number, opened.clip_path, opened.review)
        return
    with st.container(key=CLIP):
        st.video(str(playable), format="video/mp4", muted=True, alt="The clip of the set")
    drawn_in = playable == opened.drawn.overlay
    track = pack_landmark_track(recording) if recording is not None and not drawn_in else None
    shown = summary.main_columns(opened.review, opened.exercise)[:1]
    curve = find_lift_curve(analysis, *shown) if analysis is not None and not review_blocked(opened.review) else None
    mount_player(
        make_player_data(opened.review, opened.first, scope=SCOPE, clip=CLIP, track=track, curve=curve),
        key="fc_player",
    )


def _show_findings(review: Review, exercise: Exercise | None) -> None:
    cue = next_cue(review, exercise)
    if cue is not None:
        st.html(review_html.render_next_cue(cue))
    groups = summary.grouped_findings(review, exercise)
    for verdict, items in groups.items():
        if not items:
            continue
        points = sum(item.points for item in items)
        st.html(review_html.render_verdict_heading(verdict, points))
        cards = review_html.render_findings(items)
        if verdict == "met":
            with st.expander(f"Show {wording.count(points, 'point')} going well", expanded=not groups["not_met"]):
                st.html(cards)
        else:
            st.html(cards)
    if not review.reps and exercise:
        st.info(exercise.filming.advice)


def _show_reps(opened: OpenedReview) -> None:
    review, exercise = opened.review, opened.exercise
    columns = summary.main_columns(review, exercise)
    rows = summary.rep_rows(review, columns)
    layout.show_section("Rep by rep")
    about = {name: explanations.of_measure(name, review) for name in columns}
    st.html(review_html.render_rep_strip(rows, opened.drawn.top_pictures(), about))
    with st.expander("All reps in a table"):
        st.html(review_html.render_rep_table(rows, columns, about))
    _show_rep_chart(review, exercise)


def _show_rep_chart(review: Review, exercise: Exercise | None) -> None:
    names = summary.all_columns(review)
    if not names:
        return
    leading = summary.main_columns(review, exercise)
    box = st.expander("One number from rep to rep", on_change="rerun", key="rep_numbers")
    if not box.open:
        return  # drawn only when it is wanted: a chart costs the browser more than the rest of the page
    with box:
        name = st.selectbox(
            "Number",
            names,
            index=names.index(leading[0]) if leading else 0,
            format_func=lambda item: wording.capital(wording.measure_name(item)),
            key="rep_measure",
        )
        st.caption(explanations.of_measure(name, review))
        limits = [
            (wording.limit_words(check), check.limit)
            for check in (exercise.checks if exercise else ())
            if check.measure == name and not check.absolute
        ]
        figure = angle_curves.draw_rep_measures(review, name, limits=limits, dark=layout.is_dark())
        if figure is not None:
            st.plotly_chart(
                figure,
                theme=None,
                config={"displayModeBar": False},
                key="rep_chart",
                alt=f"{wording.capital(wording.measure_name(name))} of each rep with its margin",
            )


def _show_curves(opened: OpenedReview, analysis: Analysis | None) -> None:
    names = shown_signals(analysis) if analysis is not None and not review_blocked(opened.review) else []
    if analysis is None or not names:
        return
    layout.show_section("The movement over time")
    path = opened.drawn.recording
    state = f"{path} {path.stat().st_mtime_ns if path.is_file() else 0} {opened.exercise} {opened.review.reps}"
    drawn_sides = {side for _, side in curve_keys(analysis, names)}
    sides = [side for side in ("left", "right") if side in drawn_sides]
    st.html(review_html.render_curve_legend(sides, phases=bool(opened.review.reps)))
    for name in names:
        title = wording.capital(wording.signal_name(name))
        st.html(review_html.render_curve_title(title, explanations.of_signal(name, opened.review)))
        st.plotly_chart(
            _draw_curve(state, name, opened.first, layout.is_dark(), analysis),
            theme=None,
            config={"displayModeBar": False},
            key=f"curve_{name}",
            alt=curve_alt(analysis, name),
        )
    st.caption("Click a curve to move the clip there.")


@st.cache_resource(max_entries=32, show_spinner=False)
def _draw_curve(state: str, name: str, first: angle_curves.First, dark: bool, _analysis: Analysis) -> "go.Figure":
    """One curve, drawn once for a state of the review: making it takes most of the time a review needs to open."""
    return angle_curves.draw_curve(_analysis, name, first=first, dark=dark)


def _load_analysis(opened: OpenedReview) -> tuple[Analysis | None, LandmarkRecording | None]:
    """Curves and landmarks of the stored review; None, and a sentence on the page, where they cannot be had."""
    if opened.exercise is None:
        return None, None
    curves = load_review_curves(opened.number)
    if curves.problem is not None and opened.drawn.recording.is_file():
        st.error(layout.escape_markdown(curves.problem))
    return (None, None) if curves.found is None else (curves.found.analysis, curves.found.recording)


def _show_footer(review: Review) -> None:
    with st.expander("Camera, picture and what this clip cannot show"):
        st.html(
            review_html.render_list(
                [
                    *([] if review_blocked(review) else [wording.view_detail(review.view)]),
                    *wording.quality_lines(review.quality),
                    *second_lines(review),
                ]
            )
        )
        missing = summary.missing_measures(review)
        if missing:
            st.html(review_html.render_definitions(missing))
    with st.expander("How to read the numbers"):
        st.html(review_html.render_definitions(wording.READING))
