"""Third step of a review: the result, with the clip, the findings, the reps and the curves tied together."""

from dataclasses import replace

import streamlit as st

from formcheck.analysis import analyse
from formcheck.codec import encode
from formcheck.errors import RecordingError, UsageError
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.model import Analysis, Review
from formcheck.page import charts, frame, pieces, redraw
from formcheck.page.player import mount_player, player_data
from formcheck.page.shelf import Artefacts, artefacts
from formcheck.page.state import show_start
from formcheck.report import summary, wording
from formcheck.report.phases import curve_keys, shown_signals
from formcheck.store import Store
from formcheck.store.home import data_home, default_store

SCOPE, CLIP = "fc_result", "fc_clip"


def show(review_id: int) -> None:
    """Show a stored review (StoreError when there is none of this number)."""
    if st.button("Review another set", key="again", icon=":material/add:"):
        show_start()
        st.rerun()
    with Store.open(default_store()) as store:
        review = store.load_review(review_id)
        row = store.list_reviews(review_id=review_id)[0]
    exercise = _exercise_of(review)
    drawn = artefacts(data_home(), review_id)
    with st.container(key=SCOPE):
        left, right = st.columns([4, 8], gap="large")
        with left:
            if drawn.complete:
                _clip(review, exercise, drawn)
            else:
                redraw.show(review_id, row.clip_path, review)
        with right:
            st.html(pieces.summary_head(review))
            _findings(review, exercise)
            st.html(pieces.cautions(review.cautions))
            if review.reps:
                _reps(review, exercise, drawn)
            _curves(review, exercise, drawn)
            _footing(review)
            _hand_over(review_id, review, drawn)


def _exercise_of(review: Review) -> Exercise | None:
    """Today's file of the exercise; None when it is no longer there."""
    try:
        return get_exercise(review.exercise.id)
    except UsageError:
        return None


def _first(exercise: Exercise | None) -> charts.First:
    return exercise.driver.first if exercise else "concentric"


def _clip(review: Review, exercise: Exercise | None, drawn: Artefacts) -> None:
    with st.container(key=CLIP):
        st.video(str(drawn.overlay), muted=True, alt="The clip with the measured skeleton drawn on the lifter")
    mount_player(player_data(review, _first(exercise), scope=SCOPE, clip=CLIP), key="fc_player")


def _findings(review: Review, exercise: Exercise | None) -> None:
    groups = summary.grouped_findings(review, exercise)
    for verdict, items in groups.items():
        if not items:
            continue
        st.html(pieces.verdict_heading(verdict, len(items)))
        if verdict == "met":
            with st.expander(f"Show {wording.count(len(items), 'point')} kept", expanded=not groups["not_met"]):
                st.html("".join(pieces.finding_card(item) for item in items))
        else:
            st.html("".join(pieces.finding_card(item) for item in items))
    if not review.reps and exercise:
        st.info(exercise.filming.advice)


def _reps(review: Review, exercise: Exercise | None, drawn: Artefacts) -> None:
    columns = summary.main_columns(review, exercise)
    rows = summary.rep_rows(review, columns)
    st.subheader("Rep by rep", anchor=False)
    st.html(pieces.rep_strip(rows, drawn.top_pictures(), _first(exercise)))
    names = [wording.capital(wording.measure_name(name)) for name in columns]
    st.html(pieces.rep_table(rows, names))
    _rep_chart(review, exercise)


def _rep_chart(review: Review, exercise: Exercise | None) -> None:
    names = summary.all_columns(review)
    if not names:
        return
    leading = summary.main_columns(review, exercise)
    with st.expander("One number from rep to rep"):
        name = st.selectbox(
            "Number",
            names,
            index=names.index(leading[0]) if leading else 0,
            format_func=lambda item: wording.capital(wording.measure_name(item)),
            key="rep_measure",
        )
        limits = [
            (wording.limit_words(check), check.limit)
            for check in (exercise.checks if exercise else ())
            if check.measure == name and not check.absolute
        ]
        figure = charts.rep_figure(review, name, limits=limits, dark=frame.dark())
        if figure is not None:
            st.plotly_chart(
                figure,
                theme=None,
                config={"displayModeBar": False},
                key="rep_chart",
                alt=f"{wording.capital(wording.measure_name(name))} of each rep with its margin",
            )


def _curves(review: Review, exercise: Exercise | None, drawn: Artefacts) -> None:
    if exercise is None or not drawn.recording.is_file():
        return
    try:
        analysis = _analysis(str(drawn.recording), review, exercise)
    except RecordingError as error:
        st.error(frame.plain(str(error)))
        return
    names = shown_signals(analysis)
    if not names:
        return
    st.subheader("The movement over time", anchor=False)
    drawn_sides = {side for _, side in curve_keys(analysis, names)}
    sides = [side for side in ("left", "right") if side in drawn_sides]
    st.html(pieces.curve_legend(sides, phases=bool(review.reps)))
    for name in names:
        st.markdown(f"**{wording.capital(wording.signal_name(name))}**")
        figure = charts.curve_figure(analysis, name, first=exercise.driver.first, dark=frame.dark())
        st.plotly_chart(
            figure,
            theme=None,
            config={"displayModeBar": False},
            key=f"curve_{name}",
            alt=charts.curve_alt(analysis, name),
        )
    st.caption("Click a curve to move the clip there.")


@st.cache_resource(max_entries=16, show_spinner=False)
def _analysis(recording_path: str, _review: Review, _exercise: Exercise) -> Analysis:
    """Curves anew from the stored landmarks, under the stored review."""
    from pathlib import Path

    from formcheck.capture.recording import load_recording

    recording = load_recording(Path(recording_path))
    view = _review.view.name if _review.view.origin == "given" else "auto"
    return replace(analyse(recording, _exercise, view=view, set_info=_review.set_info), review=_review)


def _footing(review: Review) -> None:
    with st.expander("Camera, picture and what this clip cannot show"):
        st.html(pieces.plain_list([wording.view_detail(review.view), *wording.quality_lines(review.quality)]))
        missing = summary.missing_measures(review)
        if missing:
            st.html(pieces.definitions(missing))
    with st.expander("How to read the numbers"):
        st.html(pieces.definitions(wording.READING))


def _hand_over(review_id: int, review: Review, drawn: Artefacts) -> None:
    st.subheader("To take along", anchor=False)
    with st.container(horizontal=True):
        name = f"formcheck-review-{review_id}"
        if drawn.report.is_file():
            st.download_button(
                "Report (HTML)",
                drawn.report.read_bytes,
                f"{name}.html",
                "text/html",
                key="get_report",
                on_click="ignore",
            )
        if drawn.overlay.is_file():
            st.download_button(
                "Clip with skeleton (MP4)",
                drawn.overlay.read_bytes,
                f"{name}.mp4",
                "video/mp4",
                key="get_overlay",
                on_click="ignore",
            )
        st.download_button(
            "Numbers (JSON)",
            encode(review, indent=2),
            f"{name}.json",
            "application/json",
            key="get_json",
            on_click="ignore",
        )
