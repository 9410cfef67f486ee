"""Part of the comparing page: the real clips side by side, in step by phase."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from formcheck.core.model import Rep
from formcheck.report import wording
from formcheck.report.body_marks import BodyMark, make_body_mark
from formcheck.report.cue_trend import CueTrend, make_cue_trend
from formcheck.report.next_cue import choose_next_cue
from formcheck.storage import StoredReview
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import layout
from formcheck.web.charts.phase_axis import RepGroup, compute_phase_times
from formcheck.web.components.paired_films import RepFilm, make_pair_data, mount_pair
from formcheck.web.stored_reviews import ReviewCurves

_CONTAINERS = ("fc_film_before", "fc_film_after")


def show(groups: Sequence[RepGroup], curves: Sequence[ReviewCurves], rows: Sequence[StoredReview]) -> None:
    """Both clips with their controls; a sentence where one of them cannot be played."""
    reps = _choose_reps(groups)
    folder = DataFolder(data_home())
    clips = [folder.artifacts(row.id).playable(row.clip_path) for row in rows]
    missing = [label for clip, label in zip(clips, (group.label for group in groups), strict=True) if clip is None]
    if missing:
        st.info(layout.escape_markdown(f"There is no film to play of {' and '.join(missing)}."))
        return
    trends = _make_trends(curves)
    films = []
    for place, (column, group, rep) in enumerate(zip(st.columns(2), groups, reps, strict=True)):
        trend = trends[place]
        with column:
            st.html(f'<p class="fc-film">{escape(_describe(group, rep, trend))}</p>')
            with st.container(key=_CONTAINERS[place]):
                st.video(str(clips[place]), format="video/mp4", muted=True, alt=f"The clip of {group.label}")
        mark = _make_mark(group, rep, trend)
        # Of one clip both are cut alike, so that the lifter is as large in both.
        seen = reps if groups[0].recording is groups[1].recording else (rep,)
        films.append(RepFilm(_CONTAINERS[place], group.recording, seen, compute_phase_times(rep, group.first), mark))
    data = make_pair_data(films, groups[0].first)
    if data is None:
        st.info("The phases of these reps are not known, so their films cannot be played in step.")
        return
    mount_pair(data, key="paired_films")


def _choose_reps(groups: Sequence[RepGroup]) -> tuple[Rep, Rep]:
    """Of one set its first and its last rep shown, as they differ most; of two sets the middle rep of each."""
    one, other = (group.reps for group in groups)
    if groups[0].recording is groups[1].recording:
        return one[0], other[-1]
    return one[len(one) // 2], other[len(other) // 2]


def describe_course(curves: ReviewCurves) -> str:
    """From which rep on a set is otherwise, in a short sentence; empty where nothing of the kind can be told."""
    exercise = curves.found.exercise if curves.found is not None else None
    trend = make_cue_trend(curves.review, exercise, choose_next_cue(curves.review, exercise))
    return "" if trend is None else trend.caption


def _make_trends(curves: Sequence[ReviewCurves]) -> list[CueTrend | None]:
    """The measure of the second set's cue in both, so that the same angle is drawn."""
    exercises = [one.found.exercise if one.found is not None else None for one in curves]
    cue = choose_next_cue(curves[1].review, exercises[1])
    return [make_cue_trend(one.review, exercise, cue) for one, exercise in zip(curves, exercises, strict=True)]


def _make_mark(group: RepGroup, rep: Rep, trend: CueTrend | None) -> BodyMark | None:
    item = None if trend is None else trend.find(rep.number)
    if trend is None or item is None:
        return None
    return make_body_mark(group.analysis, group.recording, trend.check, rep, item.side, item.grade, item.text)


def _describe(group: RepGroup, rep: Rep, trend: CueTrend | None) -> str:
    item = None if trend is None else trend.find(rep.number)
    what = "" if trend is None or item is None else f": {wording.get_measure_name(trend.check.measure)} {item.text}"
    return f"{wording.capitalise(group.label)}, rep {rep.number}{what}"
