"""Part of the comparing page: two films in step by phase, skeletons and the same angle drawn on both bodies."""

from collections.abc import Sequence
from html import escape
from pathlib import Path

import streamlit as st

from formcheck.core.vocabulary.sentences import join_words
from formcheck.exercises.schema import Check
from formcheck.report import wording
from formcheck.report.body_marks import BodyMark, make_trend_marks
from formcheck.report.cue_trend import make_point_trend
from formcheck.report.next_cue import choose_next_cue
from formcheck.services.stored_analysis import StoredAnalysis
from formcheck.statistics.change_text import format_rep_span
from formcheck.statistics.results import Comparison
from formcheck.storage import StoredReview
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import layout
from formcheck.web.charts.phase_axis import RepGroup
from formcheck.web.compare.in_step import find_common_time, match_reps, put_in_step
from formcheck.web.components.two_films import make_film, make_films_data, mount_films

BOX, FILMS = "fc_films", ("fc_film_one", "fc_film_two")

Marks = tuple[tuple[BodyMark, ...], tuple[BodyMark, ...]]


def choose_drawn_check(
    sides: tuple[StoredAnalysis, StoredAnalysis], comparison: Comparison
) -> tuple[str, Marks] | None:
    """The point that can be drawn in both sets, with its marks; None where there is none.

    One whose number surely differs comes first, then an angle, then what the later set's next cue is about.
    """
    changed = {item.measure for item in comparison.differences if item.call == "changed"}
    after = sides[1]
    cue = choose_next_cue(after.analysis.review, after.exercise)

    def rank(check: Check) -> tuple[bool, bool, bool]:
        return check.measure not in changed, check.unit != "deg", cue is None or check.id != cue.check

    for check in sorted(after.exercise.checks, key=rank):
        one, other = (_make_marks(side, check.id) for side in sides)
        if one and other:
            return check.id, (one, other)
    return None


def show_films(
    rows: tuple[StoredReview, StoredReview],
    groups: tuple[RepGroup, RepGroup],
    drawn: tuple[str, Marks] | None,
    about: str,
) -> None:
    """Both films with their controls; a sentence where one of them is not there.

    Parameters
    ----------
    drawn : `choose_drawn_check`.
    about : what is drawn, in words.
    """
    paths = [DataFolder(data_home()).artifacts(row.id).playable(row.clip_path) for row in rows]
    pairs = match_reps(groups[0].reps, groups[1].reps)
    steps = put_in_step(pairs, groups[1].first)
    gone = [group.label for group, path in zip(groups, paths, strict=True) if path is None]
    if gone or not steps:
        why = f"There is no film of {join_words(gone)} here" if gone else "No two reps can be put in step"
        clips = [row.clip_path for row, path in zip(rows, paths, strict=True) if path is None]
        more = (
            " Its review draws the film: open it once."
            if any(clip is not None and Path(clip).is_file() for clip in clips)
            else ""
        )
        st.info(layout.escape_markdown(f"{why}, so only the skeletons are shown side by side.{more}"))
        return
    check, marks = drawn if drawn is not None else ("", ((), ()))
    films = []
    with st.container(key=BOX):
        for which, column in enumerate(st.columns(2, gap="small")):
            path, group = paths[which], groups[which]
            assert path is not None
            reps = [pair[which] for pair in pairs]
            numbers = tuple(rep.number for rep in reps)
            with column:
                name = f"{wording.capitalise(group.label)}: {format_rep_span(numbers)}"
                st.html(f'<h3 class="fc-film-name">{escape(name)}</h3>')
                with st.container(key=FILMS[which]):
                    st.video(str(path), format="video/mp4", muted=True, alt=f"The film of {group.label}")
            shown = _select_marks(marks[which], numbers)
            in_pictures = path == DataFolder(data_home()).artifacts(rows[which].id).overlay
            films.append(make_film(FILMS[which], group.recording, reps, shown, check, drawn=in_pictures))
        last = _select_marks(marks[1], [pair[1].number for pair in pairs])
        begin = find_common_time(steps, 1, last[-1].rep, last[-1].at_s) if last else 0.0
        mount_films(data=make_films_data((films[0], films[1]), steps, begin), key="two_films")
        if about:
            st.caption(layout.escape_markdown(about))


def _make_marks(side: StoredAnalysis, check: str) -> tuple[BodyMark, ...]:
    trend = make_point_trend(side.analysis.review, side.exercise, check)
    return () if trend is None else make_trend_marks(side.analysis, side.recording, trend)


def _select_marks(marks: Sequence[BodyMark], reps: Sequence[int]) -> list[BodyMark]:
    return [mark for mark in marks if mark.rep in reps]
