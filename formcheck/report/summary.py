"""A review in the order of the report: findings grouped, one row a rep, every number with its margin."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from formcheck.core.model import SIDES, Finding, Grade, Reason, Rep, Review, ViewName
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import round_up
from formcheck.exercises.schema import Check, Exercise, UnseenPoint
from formcheck.report import wording
from formcheck.report.wording import SHOWN_ORDER, ShownGrade
from formcheck.report.words import WORDS
from formcheck.review_text import describe_unjudged
from formcheck.verdicts import (
    WORST_FIRST,
    choose_points,
    find_grade,
    find_margin,
    find_reason,
    format_evidence,
    get_judged_check,
    get_verdict,
    grade_points,
)

MAIN_COLUMNS = (
    "arm_line_raise_peak",
    "arm_elevation_peak",
    "arm_raise_peak",
    "range_of_motion",
    "arm_opening_peak",
    "arm_flexion_peak",
    "thigh_inclination_peak",
    "elbow_flexion_top",
    "elbow_flexion_max",
    "arm_extension_peak",
    "arm_elevation_low",
    "torso_inclination_max",
    "torso_inclination_range",
    "torso_inclination_mean",
    "arm_line_difference",
    "hand_height_difference_top",
    "arm_peak_difference",
    "knee_spread_min",
    "stance_width",
    "range_share",
)
"""Measures the short table may show, the most telling first."""
MAIN_COLUMN_LIMIT = 4
_FILM_FROM: dict[ViewName, str] = {
    "front": "the front",
    "back": "behind",
    "left": "the left side",
    "right": "the right side",
    "oblique": "an angle",
}


@dataclass(frozen=True, slots=True)
class FindingView:
    """One finding as it is shown."""

    grade: ShownGrade
    title: str
    text: str
    cue: str
    """What to do differently; empty unless something is to change."""
    evidence: str
    """Reps, value ± margin and limit in one line."""
    film_instead: str
    """How to film so that it can be judged, or that no film helps; empty unless it could not be seen."""
    others: str
    """What the same check says about the other reps; empty when there is nothing more."""
    basis: str
    at_s: float | None
    points: int = 1
    """How many checks it stands for."""
    check: str = ""
    """The point's own name; empty where it stands for several."""
    number: str = ""
    """The value with its margin alone; empty where nothing was measured."""

    @property
    def moment(self) -> str:
        """The moment in the clip, or empty."""
        return "" if self.at_s is None else wording.format_moment(self.at_s)


@dataclass(frozen=True, slots=True)
class Cell:
    """One place in the rep table: what it is and its one or two values."""

    label: str
    values: tuple[tuple[str, str], ...]
    """(side or empty, value ± margin)."""
    name: str = ""
    """The measure's name in the vocabulary."""


@dataclass(frozen=True, slots=True)
class RepRow:
    """One rep with its numbers."""

    rep: Rep
    cells: tuple[Cell, ...]
    tempo: str
    """Lowering – pause – lifting – pause, in seconds."""
    tempo_margin: str = ""
    """The largest margin of its times, such as ``± 0.1``; empty where none is known."""


def group_findings(review: Review, exercise: Exercise | None) -> dict[ShownGrade, list[FindingView]]:
    """One view a check under the set's grade: to change first, then what goes well, then what could not be judged.

    What the same check says about other reps stands in the view's last line. Points that were not seen are put
    together by what would show them.
    """
    by_check: dict[str, list[Finding]] = {}
    for finding in review.findings:
        by_check.setdefault(finding.check, []).append(finding)
    groups: dict[ShownGrade, list[FindingView]] = {grade: [] for grade in SHOWN_ORDER}
    of_set, points = grade_points(review), choose_points(review)
    for check, findings in by_check.items():
        grade = of_set.get(check)
        of_kind = [item for item in findings if check in points and item.kind == points[check].kind] or findings
        first, *others = sorted(of_kind, key=lambda item: _rank(item, grade))
        faulty = [item for item in of_kind if item.verdict == "not_met"]
        if get_verdict(grade) == "not_met" and len(faulty) > 1:
            # One row names every rep at fault, the sure and the probable ones, by the worst of them all.
            reps = tuple(sorted(rep for item in faulty for rep in item.reps))
            first, others = replace(first, reps=reps), [first, *others]
        view = make_finding_view(review, exercise, first, others, grade=grade or "unseen")
        view = replace(view, text=" ".join(part for part in (view.text, _relate_to_reps(grade, of_kind)) if part))
        wrong = [item for item in findings if item not in of_kind and item.verdict == "not_met"]
        if wrong:
            view = replace(
                view, others=". ".join([part for part in (view.others,) if part] + [_add_kind(exercise, wrong)])
            )
        groups[view.grade].append(view)
    groups["unseen"] = _merge_unseen(groups["unseen"])
    return groups


def _relate_to_reps(of_set: Grade | None, findings: Sequence[Finding]) -> str:
    """Why the set is graded otherwise than any of its reps; empty where one of them is graded as the set."""
    words = WORDS["set_and_reps"]
    verdicts = {get_verdict(find_grade(item, None, None)) for item in findings if item.value is not None}
    wrong = [rep for item in findings if item.verdict == "not_met" for rep in item.reps]
    if of_set == "close" and verdicts == {"met"}:
        return words["fine-each"]
    if get_verdict(of_set) == "not_met" and verdicts and not wrong:
        return words["off-together"]
    if get_verdict(of_set) == "met" and wrong:
        return words["but-for"].format(reps=wording.format_reps(wrong))
    return ""


def _add_kind(exercise: Exercise | None, wrong: Sequence[Finding]) -> str:
    """What a check says of other reps by its other kind: of the level beside a change in the set, or the reverse."""
    check = next((item for item in (exercise.checks if exercise else ()) if item.id == wrong[0].check), None)
    title = get_title(exercise, wrong[0].check)
    if check is not None and wrong[0].kind == "change":
        title = get_judged_check(check, wrong[0]).title
    return f"{title}: {', '.join(_describe_reps(item) for item in wrong)}"


def _rank(finding: Finding, of_set: Grade | None) -> tuple[int, int]:
    """Findings on the set's side of the limit come first: the worst of a set at fault, else those that are as it is."""
    grade = find_grade(finding, None, None)
    beside = get_verdict(grade) == get_verdict(of_set)
    near = 0 if grade == of_set or (beside and get_verdict(of_set) == "not_met") else 1 if beside else 2
    return near, WORST_FIRST.index(grade)


def _merge_unseen(views: Sequence[FindingView]) -> list[FindingView]:
    """Checks that the same film would show as one view; without the basis of limits nobody applied."""
    merged: dict[tuple[str, str], FindingView] = {}
    single: list[FindingView] = []
    for view in views:
        if view.evidence or view.others:
            single.append(view)
            continue
        key = (view.text, view.film_instead)
        earlier = merged.get(key)
        if earlier is not None:
            title, points = f"{earlier.title} · {view.title}", earlier.points + view.points
            view = replace(earlier, title=title, basis="", points=points)
        merged[key] = view
    return [*single, *merged.values()]


def make_finding_view(
    review: Review,
    exercise: Exercise | None,
    finding: Finding,
    others: Sequence[Finding] = (),
    *,
    grade: ShownGrade | None = None,
) -> FindingView:
    """One finding in words.

    Parameters
    ----------
    others : findings of the same check about other reps.
    grade : the set's, where it is not the finding's own.
    """
    grade = grade or find_grade(finding, None, None) or "unseen"
    check = next((item for item in (exercise.checks if exercise else ()) if item.id == finding.check), None)
    own = check
    check = get_judged_check(check, finding) if check and finding.kind == "change" else check
    # That the last reps are as the first is not said of single ones in between.
    said = own if wording.is_change_of_single_reps(finding) else check
    return FindingView(
        grade=grade,
        title=said.title if said and finding.kind == "change" else get_title(exercise, finding.check),
        text=_describe_reason(review, finding, check),
        cue=said.cue if said and grade in ("not_met", "probably_not_met") else "",
        evidence=_describe_evidence(review, finding, check),
        film_instead=_describe_filming(review, exercise, finding, check) if grade == "unseen" else "",
        others=wording.capitalise(", ".join(_describe_reps(item) for item in others)),
        basis=finding.basis,
        at_s=finding.at_s,
        check=finding.check,
        number=_format_value(review, finding, check),
    )


def get_title(exercise: Exercise | None, check: str) -> str:
    """What a point of form is called; made from its id where the exercise does not have it any more."""
    points: tuple[Check | UnseenPoint, ...] = (*exercise.checks, *exercise.untold) if exercise else ()
    return next((item.title for item in points if item.id == check), check.replace("-", " ").capitalize())


def _describe_reps(finding: Finding) -> str:
    grade: ShownGrade = find_grade(finding, None, None) or "unseen"
    return WORDS["grades_of_reps"][grade].format(reps=wording.format_reps(finding.reps))


def list_untold(review: Review, exercise: Exercise | None) -> list[tuple[str, str]]:
    """(title, reason) of points of form that no camera shows."""
    found = [item for item in review.findings if not item.measure]
    return [(get_title(exercise, item.check), describe_unjudged(item)) for item in found]


def list_what_to_film(review: Review, exercise: Exercise | None) -> list[str]:
    """What would show the points that were not seen, what shows most of them first; none that no camera shows."""
    unseen = group_findings(review, exercise)["unseen"]
    no_film = (WORDS["unseen"]["no-camera"], WORDS["unseen"]["any"])
    amounts: dict[str, int] = {}
    for view in unseen:
        if view.film_instead not in no_film:
            amounts[view.film_instead] = amounts.get(view.film_instead, 0) + view.points
    ordered = sorted(amounts, key=lambda text: -amounts[text])
    return [text.removesuffix(WORDS["unseen"]["to-judge"]).rstrip(", ") for text in ordered]


def choose_main_columns(review: Review, exercise: Exercise | None) -> list[str]:
    """Names of the measures the short rep table shows: what is judged, where there are values."""
    measured = {item.name for item in review.measures if item.value is not None and item.rep is not None}
    shown = [name for name in MAIN_COLUMNS if name in measured]
    judged = {check.measure for check in exercise.checks} if exercise else set()
    return ([name for name in shown if name in judged] or shown)[:MAIN_COLUMN_LIMIT]


def list_columns(review: Review) -> list[str]:
    """Names of every measure that has a value for some rep, in the vocabulary's order."""
    measured = {item.name for item in review.measures if item.value is not None and item.rep is not None}
    return [name for name in MEASURES if name in measured]


def make_rep_rows(review: Review, columns: Sequence[str]) -> list[RepRow]:
    """One row a rep with the wanted measures."""
    return [
        RepRow(
            rep,
            tuple(_make_cell(review, name, rep) for name in columns),
            wording.format_tempo(rep, last=rep.number == len(review.reps)),
            _format_tempo_margin(review, rep),
        )
        for rep in review.reps
    ]


def _format_tempo_margin(review: Review, rep: Rep) -> str:
    times = ("eccentric_time", "bottom_pause", "concentric_time", "top_pause")
    margins = [
        item.margin
        for item in review.measures
        if item.rep == rep.number and item.name in times and item.value is not None and item.margin is not None
    ]
    return f"± {round_up(max(0.1, *margins), 1):.1f}" if margins else ""


def list_missing_measures(review: Review) -> list[tuple[str, str]]:
    """(plain name, reason) of measures this clip gives for no rep at all."""
    measured = {item.name for item in review.measures if item.value is not None}
    reasons: dict[str, str] = {}
    for item in review.measures:
        if item.name not in measured and item.missing_reason:
            reasons.setdefault(item.name, item.missing_reason)
    return [(wording.capitalise(wording.get_plain_name(name)), reason) for name, reason in reasons.items()]


def _make_cell(review: Review, name: str, rep: Rep) -> Cell:
    label = wording.capitalise(wording.get_plain_name(name))
    if name in MEASURES and MEASURES[name].sided:
        pairs = [(side, review.measure(name, rep=rep.number, side=side)) for side in SIDES]
        pairs = [
            (side, item) for side, item in pairs if item is not None or rep.side is None
        ]  # not of an arm that rests
        return Cell(label, tuple((side, wording.format_measure(item)) for side, item in pairs), name)
    return Cell(label, (("", wording.format_measure(review.measure(name, rep=rep.number))),), name)


_REASONS: Mapping[Reason | None, str] = {
    "within_tolerance": "Missed, but by no more than the tolerance and the margin together.",
}


def _describe_reason(review: Review, finding: Finding, check: Check | None) -> str:
    """Why nothing is claimed; empty for a finding whose grade says it all, and where what to film does."""
    if finding.verdict != "undecided":
        return ""
    if finding.value is not None:
        return _REASONS.get(find_reason(finding, wording.find_quoted_measure(review, finding), check), "")
    if not finding.measure or _is_wrong_view(review, finding):
        return ""
    return describe_unjudged(finding)


def _is_wrong_view(review: Review, finding: Finding) -> bool:
    """Nothing was measured, as the camera stood where it cannot be."""
    if finding.reason is not None:
        return finding.reason == "wrong_view"
    own = [item for item in review.measures if item.name == finding.measure and item.rep in finding.reps]
    return {item.missing_reason_coded.code for item in own if item.missing_reason_coded} == {"wrong-view"}


def _describe_evidence(review: Review, finding: Finding, check: Check | None) -> str:
    if finding.value is None:
        return ""
    item = wording.find_quoted_measure(review, finding)
    unit = check.unit if check else item.unit if item else "deg"
    name, margin = finding.measure, find_margin(finding, item)
    check = get_judged_check(check, finding) if check else None
    parts = [wording.format_reps(finding.reps, len(review.reps))]
    value = (
        format_evidence(check, finding.value, margin)
        if check
        else wording.format_with_margin(finding.value, margin, unit, name)
    )
    value += wording.format_camera_mark(item) + wording.format_origin_mark(item)
    higher = wording.name_higher_part(name, finding.value) if check and check.absolute else ""
    shown = f"{wording.describe_change(finding) or wording.get_plain_name(name)} {value}"
    if higher and finding.kind != "change":
        shown = f"{higher} {value} higher"
    if item and len(finding.reps) > 1 and item.rep is not None:
        nearest = "closest to the limit" if finding.verdict == "met" else "worst"
        shown = f"{nearest}: {shown} in rep {item.rep}"
    parts.append(f"{shown}, {item.side} side" if item and item.side else shown)
    if finding.limit is not None:
        limit = wording.format_check_limit(check) if check else wording.format_number(finding.limit, unit)
        parts.append(f"target: {limit}")
    return wording.capitalise(" · ".join(part for part in parts if part))


def _format_value(review: Review, finding: Finding, check: Check | None) -> str:
    if finding.value is None:
        return ""
    item = wording.find_quoted_measure(review, finding)
    unit = check.unit if check else item.unit if item else "deg"
    value = abs(finding.value) if check is not None and check.absolute else finding.value
    shown = wording.format_with_margin(value, find_margin(finding, item), unit, finding.measure)
    word = finding.text_coded.parameters.get("word", "") if finding.kind == "change" and finding.text_coded else ""
    return f"{shown} {word}".strip()


def _describe_filming(review: Review, exercise: Exercise | None, finding: Finding, check: Check | None) -> str:
    """What to film to judge a point that was not seen, without its name."""
    words = WORDS["unseen"]
    if not finding.measure:
        return words["no-camera"]
    views = exercise.views_for(check) if exercise and check else ()
    stood = {review.view.name} | ({review.second.view.name} if review.second else set())
    if not views:
        return words["any"]
    if stood & set(views):
        return words["film-again"]
    if {"left", "right"} <= set(views):
        return words["film-side"]
    positions = [_FILM_FROM[name] for name in views if name != "oblique"] or [_FILM_FROM["oblique"]]
    return words["film-from"].format(places=" or ".join(positions))
