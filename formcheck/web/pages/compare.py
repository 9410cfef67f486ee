"""Page: hold a set, half a set or a rep against another: skeletons, curves, differences with their margins."""

from html import escape

import streamlit as st

from formcheck.core.model import CameraView, Rep, Review
from formcheck.report import wording
from formcheck.report.client_match import people_note, same_session
from formcheck.report.phases import shown_signals
from formcheck.statistics.rep_comparison import compare_reps
from formcheck.statistics.rep_series import series_by_measure
from formcheck.statistics.results import Comparison, Difference
from formcheck.statistics.set_comparison import compare_early_with_late, compare_sets
from formcheck.web import layout
from formcheck.web.charts import phase_axis, rep_comparison
from formcheck.web.charts.phase_axis import RepGroup
from formcheck.web.compare import set_choice
from formcheck.web.compare.set_choice import SetChoice, make_labels
from formcheck.web.components import review_html, training_html
from formcheck.web.components.skeleton_overlay import make_overlay_data, mount_overlay
from formcheck.web.stored_reviews import ReviewCurves, load_review_curves

_CURVES = "fc_phase_curves"


def main() -> None:
    """Choose and show."""
    layout.show_heading("Compare", "What differs, and whether it is more than the measurement can blur.")
    with layout.show_errors():
        chosen = set_choice.choose_sets()
        if chosen is not None:
            _show(chosen)


def _show(chosen: SetChoice) -> None:
    before, after = load_review_curves(chosen.before.id), load_review_curves(chosen.after.id)
    labels = _labels(chosen)
    found = _compare(chosen, before.review, after.review, labels)
    people = people_note(chosen.before, chosen.after)
    if people:
        st.warning(layout.escape_markdown(people))
    st.html(f'<p class="fc-lead">{escape(found.sentence)}</p>')
    if found.notes:
        st.html(review_html.render_list([note for note in found.notes if note != found.sentence]))
    groups = _groups(chosen, before, after, labels)
    if groups is not None:
        _show_skeletons(groups, (before.review.view, after.review.view))
    else:
        st.info(layout.escape_markdown(before.problem or after.problem or "The curves of these sets cannot be drawn."))
    _show_numbers(found, before.review, after.review, labels)
    layout.show_cautions()


def _show_numbers(found: Comparison, before: Review, after: Review, labels: tuple[str, str]) -> None:
    if not found.differences:
        return
    margins = (_margins(before), _margins(after))
    names = (wording.capital(labels[0]), wording.capital(labels[1]))
    # What can be told comes first, then what speaks for form; the rest is for those who want it.
    first = sorted((item for item in found.differences if item.aspect or item.call == "changed"), key=_explain_missing)
    rest = [item for item in found.differences if item not in first]
    layout.show_section("The numbers")
    if first:
        st.html(training_html.render_differences(first, names, margins))
    if rest:
        with st.expander(f"{wording.count(len(rest), 'more number')}, none of which changed", expanded=not first):
            st.html(training_html.render_differences(rest, names, margins))


def _explain_missing(item: Difference) -> bool:
    return item.call != "changed"


def _margins(review: Review) -> dict[str, float]:
    return {item.measure: item.margin for item in series_by_measure(review)}


def _labels(chosen: SetChoice) -> tuple[str, str]:
    if chosen.kind == "halves":
        return "the early reps", "the late reps"
    if chosen.kind == "sets":
        return make_labels(chosen.before, chosen.after)
    if chosen.before.id == chosen.after.id:
        return f"rep {chosen.before_rep}", f"rep {chosen.after_rep}"
    names = make_labels(chosen.before, chosen.after)
    return f"rep {chosen.before_rep} of {names[0]}", f"rep {chosen.after_rep} of {names[1]}"


def _compare(chosen: SetChoice, before: Review, after: Review, labels: tuple[str, str]) -> Comparison:
    if chosen.kind == "halves":
        return compare_early_with_late(after)
    if chosen.before_rep is not None and chosen.after_rep is not None:
        same = chosen.before.id == chosen.after.id
        return compare_reps(before, chosen.before_rep, after, chosen.after_rep, labels=labels, same_set=same)
    return compare_sets(before, after, labels=labels, same_session=same_session(chosen.before, chosen.after))


def _groups(
    chosen: SetChoice, before: ReviewCurves, after: ReviewCurves, labels: tuple[str, str]
) -> tuple[RepGroup, RepGroup] | None:
    made = []
    for place, (one, label) in enumerate(zip((before, after), labels, strict=True)):
        if one.found is None:
            return None
        number = (chosen.before_rep, chosen.after_rep)[place]
        reps = _reps(one.review, chosen.kind == "halves", place, number)
        if not reps:
            return None
        made.append(RepGroup(label, one.found.analysis, one.found.recording, reps, one.found.exercise.driver.first))
    return made[0], made[1]


def _reps(review: Review, halves: bool, place: int, number: int | None) -> tuple[Rep, ...]:
    reps = review.reps
    if number is not None:
        return tuple(rep for rep in reps if rep.number == number)
    if halves:
        half = len(reps) // 2
        return reps[:half] if place == 0 else reps[len(reps) - half :]
    # A rep cut short would pull the usual course down; the table below has it.
    return tuple(rep for rep in reps if rep.complete) or reps


def _show_skeletons(groups: tuple[RepGroup, RepGroup], views: tuple[CameraView, CameraView]) -> None:
    st.html(render_legend(groups[0].label, groups[1].label))
    left, right = st.columns([5, 7], gap="large")
    with left:
        layout.show_section("Laid over each other")
        how = phase_axis.choose_overlay(*views)
        if how != "apart":
            anchor = phase_axis.choose_anchor(groups)
            tracks = [
                phase_axis.compute_skeleton(groups[0], anchor, mirrored=how == "mirrored"),
                phase_axis.compute_skeleton(groups[1], anchor),
            ]
            mount_overlay(make_overlay_data(tracks, groups[0].first, _CURVES), key="laid_over")
            what = "ankles" if "left_ankle" in anchor else "hips"
            st.caption(
                f"Laid upon the {what} and brought to the same trunk length; of several reps, their usual posture."
            )
        if how != "as filmed":
            st.info(layout.escape_markdown(_explain_sides(how, views, groups)))
    with right, st.container(key=_CURVES):
        layout.show_section("The movement at the same phase")
        if any(len(group.reps) > 2 for group in groups):
            st.caption("Line: the usual course. Band: from the lowest to the highest of the reps. Pauses are left out.")
        else:
            st.caption("Pauses are left out, so both are seen at the same share of each phase.")
        for signal in shown_signals(groups[1].analysis):
            _choose_signal(groups, signal)


def _explain_sides(
    how: phase_axis.Laid, views: tuple[CameraView, CameraView], groups: tuple[RepGroup, RepGroup]
) -> str:
    """What differing camera sides mean for the pictures laid over each other."""
    one, other = (wording.VIEW_WORDS[view.name] for view in views)
    if how == "mirrored":
        return (
            f"Filmed from opposite sides, {one} and {other}: {groups[0].label} is shown mirrored, as the other camera "
            "would have seen it. What is near a camera looks a little larger."
        )
    where = f"{one} and {other}" if one != other else "from different slants"
    return (
        f"Filmed {where}: one picture does not show what the other does, so the skeletons cannot be laid over each "
        "other. Film both sets from the same side."
    )


def _choose_signal(groups: tuple[RepGroup, RepGroup], signal: str) -> None:
    sides = rep_comparison.find_common_sides(groups, signal)
    if not sides:
        return
    side = sides[0]
    st.html(f'<h3 class="fc-curve">{wording.capital(wording.signal_name(signal))}</h3>')
    if len(sides) > 1:
        side = st.segmented_control(
            "Side", sides, default=sides[0], required=True, key=f"cmp_side_{signal}", label_visibility="collapsed"
        )
    st.plotly_chart(
        rep_comparison.draw_phase_curves(groups, signal, side, dark=layout.is_dark()),
        theme=None,
        config={"displayModeBar": False},
        key=f"phase_{signal}",
        alt=rep_comparison.describe_phase_curves(groups, signal, side),
    )


def render_legend(before: str, after: str) -> str:
    """Which colour and dash is which, as HTML."""
    items = "".join(
        f'<li><i class="fc-line fc-line-{look}"></i>{escape(wording.capital(label))}</li>'
        for look, label in (("left", before), ("right", after))
    )
    return f'<ul class="fc-legend">{items}</ul>'


main()
