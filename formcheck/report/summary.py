"""A review put in the order a reader needs it: findings grouped, one row a rep, every number with its margin."""

from collections.abc import Sequence
from dataclasses import dataclass

from formcheck.exercises.schema import Check, Exercise
from formcheck.model import SIDES, Finding, Rep, Review, Verdict, ViewName
from formcheck.report import wording
from formcheck.vocabulary import MEASURES

GROUP_ORDER: tuple[Verdict, ...] = ("not_met", "undecided", "met")
MAIN_COLUMNS = (
    "arm_elevation_peak",
    "arm_raise_peak",
    "range_of_motion",
    "elbow_flexion_top",
    "elbow_flexion_max",
    "torso_inclination_range",
    "torso_inclination_mean",
    "arm_peak_difference",
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

    verdict: Verdict
    title: str
    text: str
    cue: str
    """What to do differently; empty unless something is to change."""
    evidence: str
    """Reps, value ± margin and limit in one line."""
    film_instead: str
    """How to film so that it can be judged; empty unless it could not be."""
    basis: str
    at_s: float | None

    @property
    def moment(self) -> str:
        """The moment in the clip, or empty."""
        return "" if self.at_s is None else wording.moment(self.at_s)


@dataclass(frozen=True, slots=True)
class Cell:
    """One place in the rep table: what it is and its one or two values."""

    label: str
    values: tuple[tuple[str, str], ...]
    """(side or empty, value ± margin)."""


@dataclass(frozen=True, slots=True)
class RepRow:
    """One rep with its numbers."""

    rep: Rep
    cells: tuple[Cell, ...]

    @property
    def kind(self) -> str:
        """``complete`` or ``partial``."""
        return "complete" if self.rep.complete else "partial"


def grouped_findings(review: Review, exercise: Exercise) -> dict[Verdict, list[FindingView]]:
    """Findings by verdict: what to change first, then what could not be judged, then what was kept."""
    views = [finding_view(review, exercise, item) for item in review.findings]
    return {verdict: [view for view in views if view.verdict == verdict] for verdict in GROUP_ORDER}


def finding_view(review: Review, exercise: Exercise, finding: Finding) -> FindingView:
    """One finding in words."""
    check = next((item for item in exercise.checks if item.id == finding.check), None)
    title = check.title if check else finding.check.replace("-", " ").capitalize()
    change, undecided = finding.verdict == "not_met", finding.verdict == "undecided"
    cue = check.cue if check and change else ""
    text = finding.text.strip()
    return FindingView(
        verdict=finding.verdict,
        title=title,
        text="" if text in (cue, title) else text,
        cue=cue,
        evidence=_evidence(review, finding, check),
        film_instead=_film_instead(review, exercise, check) if undecided else "",
        basis=finding.basis,
        at_s=finding.at_s,
    )


def main_columns(review: Review) -> list[str]:
    """Names of the measures the short rep table shows: those with at least one value."""
    measured = {item.name for item in review.measures if item.value is not None and item.rep is not None}
    return [name for name in MAIN_COLUMNS if name in measured][:MAIN_COLUMN_LIMIT]


def all_columns(review: Review) -> list[str]:
    """Names of every measure that has a value for some rep, in the vocabulary's order."""
    measured = {item.name for item in review.measures if item.value is not None and item.rep is not None}
    return [name for name in MEASURES if name in measured]


def rep_rows(review: Review, columns: Sequence[str]) -> list[RepRow]:
    """One row a rep with the wanted measures."""
    return [RepRow(rep, tuple(_cell(review, name, rep) for name in columns)) for rep in review.reps]


def missing_measures(review: Review) -> list[tuple[str, str]]:
    """(plain name, reason) of measures this clip gives for no rep at all."""
    measured = {item.name for item in review.measures if item.value is not None}
    reasons: dict[str, str] = {}
    for item in review.measures:
        if item.name not in measured and item.missing_reason:
            reasons.setdefault(item.name, item.missing_reason)
    return [(wording.capital(wording.measure_name(name)), reason) for name, reason in reasons.items()]


def _cell(review: Review, name: str, rep: Rep) -> Cell:
    label = wording.capital(wording.measure_name(name))
    if name in MEASURES and MEASURES[name].sided:
        pairs = [(side, review.measure(name, rep=rep.number, side=side)) for side in SIDES]
        return Cell(label, tuple((side, wording.measure_text(item)) for side, item in pairs))
    return Cell(label, (("", wording.measure_text(review.measure(name, rep=rep.number))),))


def _evidence(review: Review, finding: Finding, check: Check | None) -> str:
    item = wording.finding_margin(review, finding)
    unit = check.unit if check else item.unit if item else "deg"
    name = finding.measure
    parts = [wording.rep_list(finding.reps, len(review.reps))]
    if finding.value is not None:
        margin = item.margin if item else None
        parts.append(f"{wording.measure_name(name)} {wording.with_margin(finding.value, margin, unit, name)}")
    if finding.limit is not None:
        bound = "at least " if check and check.at_least is not None else "at most " if check else ""
        percent = name == "range_share"
        limit = f"asked for: {bound}{wording.number(finding.limit, unit, percent=percent)}"
        if check and check.tolerance:
            limit += f" (let pass: {wording.number(check.tolerance, unit, percent=percent)})"
        parts.append(limit)
    text = " · ".join(part for part in parts if part)
    return wording.capital(text)


def _film_instead(review: Review, exercise: Exercise, check: Check | None) -> str:
    views = exercise.views_for(check) if check else ()
    if not views:
        return ""
    if review.view.name in views:
        return (
            "Film the set again with the whole body in the picture and the phone held still: that narrows the margin."
        )
    if {"left", "right"} <= set(views):
        return "To judge it, film a set from the side."
    places = [_FILM_FROM[name] for name in views if name != "oblique"] or [_FILM_FROM["oblique"]]
    return f"To judge it, film a set from {' or '.join(places)}."
