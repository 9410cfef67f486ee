"""Page: hold a set, its first reps or a rep against others: films in step, curves, differences with their margins."""

from html import escape

import streamlit as st

from formcheck.core.model import CameraView, Rep, Review
from formcheck.report import comparison_headline, wording
from formcheck.report.phases import choose_signals
from formcheck.report.training_report import describe_people, is_same_session
from formcheck.statistics.comparison import choose_end_reps, compare_first_with_last, compare_reps, compare_sets
from formcheck.statistics.rep_series import list_series
from formcheck.statistics.results import Comparison
from formcheck.storage import Store
from formcheck.web import controls, layout
from formcheck.web.charts import phase_axis, rep_comparison
from formcheck.web.charts.phase_axis import RepGroup
from formcheck.web.compare import films, set_choice
from formcheck.web.compare.set_choice import SetChoice, make_labels
from formcheck.web.components import training_html
from formcheck.web.components.skeleton_overlay import make_overlay_data, mount_overlay
from formcheck.web.markup import render
from formcheck.web.stored_reviews import ReviewCurves, load_review_curves

_CURVES = "fc_phase_curves"


def main() -> None:
    """Choose and show."""
    layout.show_heading("Compare", "What changed, beyond measurement error.")
    with layout.show_errors(), Store.open() as store:
        choice = set_choice.choose_sets(store)
        if choice is not None:
            _show(choice)


def _show(choice: SetChoice) -> None:
    before, after = load_review_curves(choice.before.id), load_review_curves(choice.after.id)
    labels = _label_sides(choice)
    comparison = _compare(choice, before.review, after.review, labels)
    if people := describe_people(choice.before, choice.after):
        st.warning(layout.escape_markdown(people))
    groups = _group_reps(choice, before, after, labels)
    _show_headline(choice, comparison, before, after, groups)
    if comparison.notes:
        st.html(render("pieces", "list", [note for note in comparison.notes if note != comparison.sentence]))
    if groups is not None:
        _show_skeletons(groups, (before.review.view, after.review.view))
    else:
        st.info(layout.escape_markdown(before.problem or after.problem or "The curves of these sets cannot be drawn."))
    _show_numbers(comparison, before.review, after.review, labels)
    layout.show_cautions()


def _show_headline(
    choice: SetChoice,
    comparison: Comparison,
    before: ReviewCurves,
    after: ReviewCurves,
    groups: tuple[RepGroup, RepGroup] | None,
) -> None:
    """What differs in one line, and the films that show it; why not, where the cameras saw different angles."""
    pair = _name_pair(choice)
    if phase_axis.choose_overlay(before.review.view, after.review.view) == "apart" and not choice.same_set:
        words = comparison_headline.describe_other_camera(pair, before.review.view, after.review.view)
        st.warning(layout.escape_markdown(words))
        return
    drawn = None
    if before.found is not None and after.found is not None:
        drawn = films.choose_drawn_check((before.found, after.found), comparison)
    checks = {item.id: item for item in after.found.exercise.checks} if after.found is not None else {}
    check = checks[drawn[0]] if drawn is not None else None
    difference = comparison_headline.choose_difference(comparison, [] if check is None else [check.measure])
    headline = comparison_headline.write_headline(pair, difference)
    st.html(f'<h2 class="fc-headline">{escape(headline)}</h2>')
    if groups is not None:
        about = "" if check is None else f"Drawn on both: {wording.get_plain_name(check.measure)}."
        films.show_films((choice.before, choice.after), groups, drawn, about)
    st.html(f'<p class="fc-lead">{escape(comparison.sentence)}</p>')


def _name_pair(choice: SetChoice) -> str:
    """What is held against what, for the headline."""
    before, after = choice.before, choice.after
    if choice.kind == "halves":
        return comparison_headline.name_pair("ends")
    if choice.rep_numbers is not None:
        return comparison_headline.name_pair("reps", before=choice.rep_numbers[0], after=choice.rep_numbers[1])
    if is_same_session(before, after):
        return comparison_headline.name_pair("same-day", before=before.set_number, after=after.set_number)
    if before.client_id is None or before.session_on == after.session_on:
        return comparison_headline.name_pair("other-set")
    return comparison_headline.name_pair("other-day", day=wording.format_day(before.session_on))


def _show_numbers(comparison: Comparison, before: Review, after: Review, labels: tuple[str, str]) -> None:
    if not comparison.differences:
        return
    margins = (_find_margins(before), _find_margins(after))
    names = (wording.capitalise(labels[0]), wording.capitalise(labels[1]))
    # Changes come first, then measures of form; the others are shown when they are asked for.
    differences = sorted(comparison.differences, key=lambda item: item.call != "changed")
    first = [item for item in differences if item.aspect or item.call == "changed"]
    rest = [item for item in differences if item not in first]
    layout.show_section("The numbers")
    if first:
        st.html(training_html.render_differences(first, names, margins))
    if rest:
        with st.expander(f"{wording.count(len(rest), 'more number')}, none of which changed", expanded=not first):
            st.html(training_html.render_differences(rest, names, margins))


def _find_margins(review: Review) -> dict[str, float]:
    return {item.measure: item.margin for item in list_series(review)}


def _label_sides(choice: SetChoice) -> tuple[str, str]:
    if choice.kind == "halves":
        return "the early reps", "the late reps"
    names = make_labels(choice.before, choice.after)
    if choice.rep_numbers is None:
        return names
    one, other = (f"rep {number}" for number in choice.rep_numbers)
    return (one, other) if choice.same_set else (f"{one} of {names[0]}", f"{other} of {names[1]}")


def _compare(choice: SetChoice, before: Review, after: Review, labels: tuple[str, str]) -> Comparison:
    if choice.kind == "halves":
        return compare_first_with_last(after, labels=labels)
    if choice.rep_numbers is None:
        return compare_sets(before, after, labels=labels, same_session=is_same_session(choice.before, choice.after))
    one, other = choice.rep_numbers
    return compare_reps(before, one, after, other, labels=labels, same_set=choice.same_set)


def _group_reps(
    choice: SetChoice, before: ReviewCurves, after: ReviewCurves, labels: tuple[str, str]
) -> tuple[RepGroup, RepGroup] | None:
    """The reps whose curves and skeletons are shown; None where the curves of a set cannot be had."""
    groups = []
    for index, (one, label) in enumerate(zip((before, after), labels, strict=True)):
        reps = _select_reps(one.review, choice, index)
        if one.found is None or not reps:
            return None
        groups.append(RepGroup(label, one.found.analysis, one.found.recording, reps, one.found.exercise.driver.first))
    return groups[0], groups[1]


def _select_reps(review: Review, choice: SetChoice, index: int) -> tuple[Rep, ...]:
    reps = review.reps
    if choice.rep_numbers is not None:
        return tuple(rep for rep in reps if rep.number == choice.rep_numbers[index])
    if choice.kind == "halves":
        wanted = choose_end_reps(review)[index]
        return tuple(rep for rep in reps if rep.number in wanted)
    # A rep cut short would pull the usual curve down; the table below has it.
    return tuple(rep for rep in reps if rep.complete) or reps


def _show_skeletons(groups: tuple[RepGroup, RepGroup], views: tuple[CameraView, CameraView]) -> None:
    colours = zip(("left", "right"), groups, strict=True)
    lines = (
        f'<i class="fc-line fc-line-{side}"></i>{escape(wording.capitalise(group.label))}' for side, group in colours
    )
    st.html(f'<ul class="fc-legend">{"".join(f"<li>{line}</li>" for line in lines)}</ul>')
    left, right = st.columns([5, 7], gap="large")
    with left:
        layout.show_section("Both skeletons")
        how = phase_axis.choose_overlay(*views)
        if how != "apart":
            anchor = phase_axis.choose_anchor(groups)
            tracks = [
                phase_axis.compute_skeleton(groups[0], anchor, mirrored=how == "mirrored"),
                phase_axis.compute_skeleton(groups[1], anchor),
            ]
            mount_overlay(make_overlay_data(tracks, groups[0].first, _CURVES), key="laid_over")
            what = "ankles" if "left_ankle" in anchor else "hips"
            st.caption(f"Aligned at the {what}, scaled to torso length; of several reps, their usual posture.")
        if how != "as filmed":
            st.info(layout.escape_markdown(_explain_sides(how, views, groups)))
    with right, st.container(key=_CURVES):
        layout.show_section("The movement at the same phase")
        if any(len(group.reps) > 2 for group in groups):
            st.caption("Line: the usual course. Band: from the lowest to the highest of the reps. Pauses are left out.")
        else:
            st.caption("Pauses are left out, so both are seen at the same share of each phase.")
        for signal in choose_signals(groups[1].analysis):
            _show_signal(groups, signal)


def _explain_sides(
    how: phase_axis.Overlay, views: tuple[CameraView, CameraView], groups: tuple[RepGroup, RepGroup]
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


def _show_signal(groups: tuple[RepGroup, RepGroup], signal: str) -> None:
    sides = rep_comparison.find_common_sides(groups, signal)
    if not sides:
        return
    side = sides[0]
    st.html(f'<h3 class="fc-curve">{wording.capitalise(wording.get_signal_name(signal))}</h3>')
    if len(sides) > 1:
        names = {item: str(item) for item in sides}
        side = controls.choose_by_button("Side", names, key=f"cmp_side_{signal}", labelled=False)
    figure = rep_comparison.draw_phase_curves(groups, signal, side, dark=layout.is_dark())
    alt = rep_comparison.describe_phase_curves(groups, signal, side)
    layout.show_chart(figure, key=f"phase_{signal}", alt=alt)


main()
