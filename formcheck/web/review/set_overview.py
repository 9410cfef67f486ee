"""Part of a review: what is seen at once beside the film - the next cue, its number rep by rep, a card for each rep."""

from collections.abc import Mapping, Sequence

import streamlit as st

from formcheck.core.model import Review
from formcheck.report import explanations
from formcheck.report.cue_trend import CueTrend
from formcheck.report.next_cue import NextCue
from formcheck.report.trend_chart import describe_trend
from formcheck.web import layout
from formcheck.web.charts.trend import draw_trend
from formcheck.web.components.rep_cards import RepCard, render_rep_strip
from formcheck.web.markup import render


def show_cue(cue: NextCue | None) -> None:
    """The next cue; nothing where there is none."""
    if cue is not None:
        st.html(render("review", "next_cue", cue))


def show_trend(trend: CueTrend | None, review: Review) -> None:
    """The trend chart with its name, its target and what came of the set; nothing without values."""
    if trend is None:
        return
    about = explanations.explain_measure(trend.check.measure, review)
    with st.container(key="trend_chart", gap=None):
        st.html(render("review", "trend_heading", trend, about))
        figure = draw_trend(trend, dark=layout.is_dark())
        layout.show_chart(figure, key="fc_trend", alt=describe_trend(trend))
        if trend.caption:
            st.html(render("review", "trend_caption", trend.caption))


def show_cards(
    cards: Sequence[RepCard],
    trend: CueTrend | None,
    pictures: Mapping[int, str],
    given: Mapping[str, bool],
    own: int | None,
) -> None:
    """The cards in one row, which scrolls where there are many.

    given, own : as for `render_rep_strip`.
    """
    with st.container(key="fc_cards"):
        name = "" if trend is None else trend.name
        st.html(render_rep_strip(cards, pictures, name, given, own))
