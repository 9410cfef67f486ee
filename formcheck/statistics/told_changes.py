"""What a review's findings say from a later repetition on, as changes of form: the set's course says nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from formcheck.core.model import Finding, Review
from formcheck.core.vocabulary import get_title
from formcheck.statistics.change_in_set import FIRST_REPS, find_first
from formcheck.statistics.change_text import format_amount, format_direction
from formcheck.statistics.detectable_change import compute_detectable_change
from formcheck.statistics.onset import fit_step
from formcheck.statistics.rep_series import ASPECTS, Series, list_measures
from formcheck.statistics.results import Aspect, Onset

NEAR = 1
"""Two ways to tell the first changed repetition differ by so much at the most where they tell the same change."""
_BY_NAME: tuple[tuple[str, Aspect], ...] = (
    ("torso_", "torso"),
    ("lean_", "torso"),
    ("arm_line_difference", "asymmetry"),
    ("hand_height_difference", "asymmetry"),
    ("arm_peak_difference", "asymmetry"),
    ("arm_", "range"),
    ("thigh_inclination", "range"),
    ("shoulder_flexion", "range"),
    ("range_", "range"),
    ("eccentric_time", "lowering"),
)
"""How measures that checks judge begin, and the aspect of form they tell of; all others: posture."""


_RANGES = list_measures("range")
CHANCE = 0.05
"""Chance that what a set is at fault in is told as a change where there is none; as `set_trends.ALPHA`."""


@dataclass(frozen=True, slots=True)
class ToldChange:
    """A finding that holds from a repetition on."""

    finding: Finding
    aspect: Aspect
    rep: int
    of_set: bool = False
    """It is what all repetitions together say of a check, not a finding's own sentence."""


def get_aspect(measure: str) -> Aspect:
    """The aspect of form that a check's measure tells of."""
    known: dict[str, Aspect] = {name: aspect for aspect, candidates in ASPECTS for name, _ in candidates}
    if measure in known:
        return known[measure]
    return next((aspect for begin, aspect in _BY_NAME if measure.startswith(begin)), "posture")


def list_told_changes(review: Review) -> list[ToldChange]:
    """The findings of what became worse than in the first repetitions, or is at fault, with the one from which on.

    Those that begin at a repetition the review does not hold, as one of another part of a clip with cuts, are left out.
    """
    held = {rep.number for rep in review.reps}
    told = []
    for point in review.points:
        findings = [item for item in review.findings if (item.check, item.kind) == (point.check, point.kind)]
        finding = min(findings, key=lambda item: item.verdict != "not_met", default=None)
        rep = find_first(point.beyond, point.reps)
        if point.verdict == "not_met" and finding is not None and rep is not None and rep > 1:
            told.append(ToldChange(finding, _find_aspect(finding), rep, of_set=True))
    for item in review.findings:
        if item.kind == "change" and item.verdict == "not_met" and item.text_coded is not None:
            from_rep = item.text_coded.parameters.get("from_rep")
            if isinstance(from_rep, int) and from_rep > 1:
                told.append(ToldChange(item, _find_aspect(item), from_rep))
    return [item for item in told if item.rep in held]


def agree_with_findings(
    onsets: Sequence[Onset], told: Sequence[ToldChange], series: Sequence[Series]
) -> tuple[Onset, ...]:
    """The onsets as the findings tell them, earliest first.

    An aspect that findings tell of begins no later than they say, and where both differ by a repetition it begins where
    they say: a finding holds a repetition against the first three, so it can name none of those. What became worse than
    in the first repetitions by a finding, and by no aspect's own number, is an onset too; so is what a set is at fault
    in from a repetition on, where that differs from those before by more than chance and measuring make.
    """
    first: dict[Aspect, ToldChange] = {}
    for item in sorted(told, key=lambda one: one.rep):
        first.setdefault(item.aspect, item)
    agreed = [
        _move_onset(onset, first[onset.aspect].rep) if onset.worse and onset.aspect in first else onset
        for onset in onsets
    ]
    known = {onset.aspect for onset in agreed if onset.worse}
    for item in sorted(told, key=lambda one: one.rep):
        if item.finding.kind == "change" and not item.of_set and item.aspect not in known:
            known.add(item.aspect)
            agreed.append(_make_onset(item, first[item.aspect].rep, series))
    for item in sorted(told, key=lambda one: one.rep):
        if item.finding.kind == "level" and item.aspect not in known:
            onset = _make_level_onset(item, first[item.aspect].rep, series)
            if onset is not None:
                known.add(item.aspect)
                agreed.append(onset)
    return tuple(sorted(agreed, key=lambda one: one.rep))


def _find_aspect(finding: Finding) -> Aspect:
    """The aspect a finding tells of: a range that is too large, as of knees that help, is none lost."""
    aspect = get_aspect(finding.measure)
    grown = finding.kind == "level" and (finding.value or 0.0) > (finding.limit or 0.0)
    return "posture" if aspect == "range" and finding.measure in _RANGES and grown else aspect


def begin_together(onsets: Sequence[Onset], first: Sequence[Onset], rep: int) -> tuple[Onset, ...]:
    """The onsets, those that are taken to have begun together at one repetition."""
    moved = [_set_rep(item, rep) if item in first else item for item in onsets]
    return tuple(sorted(moved, key=lambda one: one.rep))


def _move_onset(onset: Onset, rep: int) -> Onset:
    """The onset at the repetition that a finding names, unless it begins more than one before."""
    return onset if rep > onset.rep + NEAR else _set_rep(onset, rep)


def _set_rep(onset: Onset, rep: int) -> Onset:
    likely = tuple(sorted({*onset.likely, rep}))
    words = onset.sentence.replace(f"before rep {onset.rep} ", f"before rep {rep} ")
    chances = tuple((number, chance) for number, chance in onset.chances if number != rep)
    return replace(onset, rep=rep, likely=likely, chances=((rep, 1.0), *chances), sentence=words)


def _make_onset(told: ToldChange, rep: int, series: Sequence[Series]) -> Onset:
    """What a finding alone tells, from a repetition on: the mean of the first ones and the worst one."""
    finding = told.finding
    worse, margin = finding.value or 0.0, finding.margin or 0.0
    item = next((one for one in series if one.measure == finding.measure), None)
    values = [] if item is None else item.values[:FIRST_REPS].tolist()
    before = sum(values) / len(values) if values else 0.0
    word = finding.text_coded.parameters.get("word", "worse") if finding.text_coded is not None else "worse"
    unit = item.unit if item is not None else "deg"
    by = format_amount(worse, unit, margin, measure=finding.measure)
    return Onset(
        aspect=told.aspect,
        measure=finding.measure,
        unit=unit,
        rep=rep,
        likely=(rep,),
        chances=((rep, 1.0),),
        grows=False,
        before=before,
        after=before + worse,
        change=worse,
        margin=margin,
        detectable=margin,
        p_family=1.0 - (finding.probability or 0.0),
        worse=True,
        call="changed",
        sentence=f"{get_title(finding.measure)}: {by} {word} than in the first {FIRST_REPS} reps.",
    )


def _make_level_onset(told: ToldChange, rep: int, series: Sequence[Series]) -> Onset | None:
    """What a set is at fault in from a repetition on, held against those before; None where it may not have changed."""
    finding = told.finding
    item = next((one for one in series if one.measure == finding.measure), None)
    step = None if item is None else fit_step(item.values, sum(number < rep for number in item.reps), item.scatter)
    if item is None or step is None:
        return None
    change, detectable = step.after - step.before, compute_detectable_change(item.scatter)
    worse = change * ((finding.value or 0.0) - (finding.limit or 0.0)) > 0
    if told.aspect == "asymmetry":
        worse = abs(step.after) > abs(step.before)
    if not worse or step.p > CHANCE or abs(change) <= detectable:
        return None
    by = item.format(abs(change), step.margin)
    levels = f"from {item.format(step.before)} before rep {rep} to {item.format(step.after)} from there on"
    return Onset(
        aspect=told.aspect,
        measure=item.measure,
        unit=item.unit,
        rep=rep,
        likely=(rep,),
        chances=((rep, 1.0),),
        grows=False,
        before=step.before,
        after=step.after,
        change=change,
        margin=step.margin,
        detectable=detectable,
        p_family=step.p,
        worse=True,
        call="changed",
        sentence=f"{item.title} {format_direction(change)} by {by}, {levels}.",
    )
