"""Chooses the one thing to tell a lifter: what to change first, or praise and a next step, or what to film.

The words stand in ``words.toml``; those of a check, its cue, in the exercise's file.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from statistics import median, median_low
from typing import TYPE_CHECKING, Literal

from formcheck.coaching.plan_adherence import count_reps_over, get_planned_set
from formcheck.core.model import SIDES, Finding, FindingKind, Grade, Point, Review, Side
from formcheck.core.rep_sides import count_by_either_side, get_other_side, write_by_side
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import (
    PERCENT,
    count_decimals,
    format_number,
    format_reps,
    format_with_margin,
)
from formcheck.core.vocabulary.sentences import join_words
from formcheck.exercises.schema import Check, Exercise
from formcheck.report import wording
from formcheck.report.problem_text import is_clip_damaged, is_review_blocked
from formcheck.report.summary import get_title, list_what_to_film
from formcheck.report.words import WORDS
from formcheck.verdicts import (
    PROBABLE_FROM,
    choose_points,
    compute_excess,
    find_grade,
    format_evidence,
    get_judged_check,
    get_verdict,
    grade_points,
)

if TYPE_CHECKING:
    from formcheck.statistics.results import Onset

CueKind = Literal["change", "praise", "film"]
"""Something to change; nothing to, so praise and a next step; too little seen for either."""
SIZE_CAP = 3.0
"""One wild rep must not outweigh a fault that shows in every rep."""
REAL_SIZE = 1.0
"""From this size on, a fault that a coach would name, what spares a part of the body comes before all else."""
LEAST_WEIGHT = 0.15
"""Below this product a fault is listed, but is not made the cue: half a fault in a third of the reps, say."""
DOUBTED = 0.5
"""So much a fault that is only probable counts beside a sure one: what may follow from the sure one gives way to it."""
MOST_OF_REPS = 2 / 3
"""A fault holds from a rep on when so many of those from there on have it."""
SEEN_FOR_PRAISE = 0.5
"""Where less of the points could be seen, nothing is praised."""
PRAISED = 2
"""So many points are named in praise."""
FIRST_REPS = 3
"""A set's first reps, which later ones are held against: what goes before them did not hold."""
SHARE_OF_RANGE = "range_share"
"""The measure of a rep's range, which half reps and a range that shrinks fall short of."""
TORSO_HELD = frozenset({"bent-over", "prone"})
"""Positions in which the torso stays where it is: one that comes up takes the arms' range with it."""


@dataclass(frozen=True, slots=True)
class NextCue:
    """What to tell the lifter, and why this."""

    check: str
    """The point to change; empty for praise and for what to film."""
    title: str
    cue: str
    why: str
    """A sentence or two: in which reps, how far off, what it spares; what was kept."""
    reps: tuple[int, ...]
    at_s: float | None
    """The moment that shows it best, seconds of the clip."""
    kind: CueKind = "change"
    side: Side | None = None
    """The side that is worse, where it is one."""
    from_rep: int | None = None
    """The rep from which on it is so; None where it is so in single reps."""


@dataclass(frozen=True, slots=True)
class _Fault:
    """One point that the set is at fault in."""

    finding: Finding
    """What quotes the worst of it."""
    check: Check | None
    grade: Grade
    probability: float
    reps: tuple[int, ...]
    judged: tuple[int, ...]
    size: float
    """How far beyond, in faults that a coach would name, at most `SIZE_CAP`."""
    order: int

    @property
    def weight(self) -> tuple[bool, float]:
        """What is larger comes first: what surely spares a part of the body, then what weighs more."""
        sure = self.grade == "not_met"
        spares = sure and bool(self.check and self.check.protects) and self.size >= REAL_SIZE
        return spares, self.amount * (1.0 if sure else DOUBTED)

    @property
    def amount(self) -> float:
        """Probability x size x share of the reps."""
        return self.probability * self.size * len(self.reps) / max(len(self.judged), 1)


def choose_next_cue(review: Review, exercise: Exercise | None) -> NextCue | None:
    """The one thing to tell; None where nothing may be concluded or nothing was judged.

    Of the points that are not met, or probably not, the one with the largest product of probability, size and share of
    the reps comes first; what is only probable counts `DOUBTED`. The size is how far the usual one of those reps lies
    beyond the threshold, in faults that a coach would name (`Check.fault_at`), at most `SIZE_CAP`; what comes to less
    than `LEAST_WEIGHT` is no cue. Points that spare a part of the body come before all others where the fault is sure
    and of real size. Equal ones go by the exercise's own order. Where the exercise's file is gone, only the reps are
    known. A range that is lost while the torso comes up is put down to the torso (`_find_cause`).
    Source: common practice.
    """
    if is_review_blocked(review) or not review.reps or not review.findings:
        return None
    faults = _list_faults(review, exercise)
    large = [fault for fault in faults if _is_worth_a_cue(review, fault)]
    if large:
        chosen = max(large, key=lambda fault: (*fault.weight, -fault.order))
        return _tell_fault(review, _find_cause(chosen, large, exercise), len(faults))
    if exercise is not None and (plain := _tell_plain_fault(review, exercise)):
        return plain
    counts = wording.count_grades(review)
    total = sum(counts.values())
    seen = total - counts["unseen"]
    if seen < SEEN_FOR_PRAISE * total:
        return _tell_filming(review, exercise, seen, total)
    return None if review.quality.problems else _tell_praise(review, exercise, counts, faults)


# ---------------------------------------------------------------- which point


def _list_faults(review: Review, exercise: Exercise | None) -> list[_Fault]:
    """Every point, by its level or its change (`choose_points`), that the set is at fault in.

    What half reps alone explain is left out, and what the one arm that stays lower does.
    """
    checks = {check.id: check for check in exercise.checks} if exercise else {}
    order = list(checks)
    grades: dict[tuple[str, FindingKind], Grade | None]
    of_points = {(check, item.kind): item for check, item in choose_points(review).items()}
    grades = {key: item.grade for key, item in of_points.items()}
    if not review.points:
        grades = {(check, "level"): grade for check, grade in grade_points(review).items()}
    faults = []
    for (name, kind), grade in grades.items():
        mine = [item for item in review.findings if item.check == name and item.kind == kind]
        wrong = [item for item in mine if _is_fault(find_grade(item, None, None))]
        place = order.index(name) if name in order else len(order)
        if grade is not None and _is_fault(grade) and mine:
            faults.append(_make_fault(review, checks.get(name), mine, wrong, of_points.get((name, kind)), grade, place))
            continue
        # Single half reps of a long set are told, though they are no fault of the set.
        halves = [item for item in wrong if item.measure == SHARE_OF_RANGE and item.grade == "not_met"]
        if halves:
            fault = _make_fault(review, checks.get(name), mine, halves, None, "not_met", place)
            faults += [fault] if fault.size >= REAL_SIZE else []
    half_reps = {rep for fault in faults for rep in _list_half_reps(fault)}
    lower = {_find_worse_side(review, fault) for fault in faults if wording.is_difference(fault.finding.measure)} - {
        None
    }
    return [
        fault
        for fault in faults
        if fault.finding.measure == SHARE_OF_RANGE
        or wording.is_difference(fault.finding.measure)
        or not (set(fault.reps) <= half_reps or _find_worse_side(review, fault) in lower)
    ]


def _find_cause(chosen: _Fault, others: Sequence[_Fault], exercise: Exercise | None) -> _Fault:
    """The fault that explains the chosen one: the torso's, where it came up in most of the reps that lost range."""
    if exercise is None or exercise.position not in TORSO_HELD or chosen.finding.measure != SHARE_OF_RANGE:
        return chosen

    def explains(fault: _Fault) -> bool:
        shared = set(fault.reps) & set(chosen.reps)
        return fault.finding.measure.startswith("torso_") and len(shared) >= MOST_OF_REPS * len(chosen.reps)

    return max(filter(explains, others), key=lambda fault: (*fault.weight, -fault.order), default=chosen)


def _tell_plain_fault(review: Review, exercise: Exercise) -> NextCue | None:
    """What the numbers surely show of points that are not judged from this camera position; None where nothing."""
    # The course of a set loads numerical libraries, which most reviews are shown without.
    from formcheck.report.plain_faults import find_lost_form, list_plain_faults

    order = [check.id for check in exercise.checks]
    faults = [
        _make_fault(review, check, found, found[:1], None, "not_met", order.index(check.id))
        for check, found in list_plain_faults(review, exercise)
    ]
    words, faults = WORDS["next_cue"], [fault for fault in faults if _is_worth_a_cue(review, fault)]
    if faults:
        cue = _tell_fault(review, max(faults, key=lambda fault: (*fault.weight, -fault.order)), len(faults))
        return replace(cue, why=f"{cue.why} {words['plain']}")
    if lost := find_lost_form(review, exercise):
        return _tell_lost_form(review, *lost)
    return None


def _is_worth_a_cue(review: Review, fault: _Fault) -> bool:
    """Of real weight; sure, where single reps fell short; of a lower arm only where it is probable which one it is."""
    if fault.amount < LEAST_WEIGHT or (fault.grade != "not_met" and _list_half_reps(fault)):
        return False
    usual = _find_usual(review, fault) if wording.is_difference(fault.finding.measure) else None
    return usual is None or abs(usual[0]) >= PROBABLE_FROM * usual[1]


def _is_fault(grade: Grade | None) -> bool:
    return get_verdict(grade) == "not_met"


def _make_fault(
    review: Review,
    check: Check | None,
    mine: Sequence[Finding],
    wrong: Sequence[Finding],
    point: Point | None,
    grade: Grade,
    order: int,
) -> _Fault:
    """One point at fault.

    Parameters
    ----------
    mine : its findings.
    wrong : those about reps that are (probably) at fault; none where only all reps together are.
    """
    first = wrong[0] if wrong else next((item for item in mine if item.value is not None), mine[0])
    told = tuple(sorted({rep for item in wrong for rep in item.reps}))
    judged = tuple(sorted({rep for item in mine if item.value is not None for rep in item.reps} | set(told)))
    beyond = point.beyond if point is not None else ()
    if point is not None:
        judged = point.reps
    return _Fault(
        finding=first,
        check=check,
        grade=grade,
        probability=1.0 if point is None or point.probability is None else point.probability,
        reps=beyond or told or judged,
        judged=judged,
        size=_compute_size(review, first, check, beyond or told),
        order=order,
    )


def _list_excesses(review: Review, finding: Finding, check: Check) -> dict[int, float]:
    """Rep → how far its worse side lies beyond limit and tolerance, in the check's unit."""
    judged = get_judged_check(check, finding)
    found: dict[int, float] = {}
    for item in review.measures:
        if item.name == finding.measure and item.rep is not None and item.value is not None:
            excess = compute_excess(judged, item.value) - judged.tolerance
            found[item.rep] = max(found.get(item.rep, excess), excess)
    return found


def _compute_size(review: Review, finding: Finding, check: Check | None, reps: Sequence[int]) -> float:
    """How far the usual one of the reps is beyond, in faults that a coach would name."""
    if check is None or finding.value is None or not isfinite(finding.value):
        return 1.0
    if finding.kind == "change":
        limit = finding.limit or 1.0
        return min(max(finding.value / limit - 1.0, 0.0), SIZE_CAP)
    judged = get_judged_check(check, finding)
    excesses = _list_excesses(review, finding, check)
    beyond = [excesses[rep] for rep in reps if rep in excesses]
    usual = median(beyond) if beyond else compute_excess(judged, finding.value) - judged.tolerance
    # A check that names no fault is judged in its tolerance, or in tenths of its limit.
    named = 0.0 if check.fault_at is None else abs(check.fault_at - check.limit) - check.tolerance
    step = named if named > 0 else check.tolerance or abs(check.limit) / 10 or 1.0
    return min(max(usual / step, 0.0), SIZE_CAP)


# ---------------------------------------------------------------- what to say of it


def _tell_fault(review: Review, fault: _Fault, others: int) -> NextCue:
    words, finding, check = WORDS["next_cue"], fault.finding, fault.check
    parameters = finding.text_coded.parameters if finding.text_coded else {}
    title = str(parameters.get("title") or (check.title if check else ""))
    cue = str(parameters.get("cue") or (check.cue if check else finding.text))
    if check is not None and (finding.kind == "level" or wording.is_change_of_single_reps(finding)):
        title, cue = check.title, check.cue
    side = _find_worse_side(review, fault)
    from_rep = find_first_rep(fault.reps, fault.judged)
    halves = _list_half_reps(fault)
    if halves:
        kind = "half-rep" if fault.size >= REAL_SIZE else "short-rep"
        cue = words[kind if len(halves) == 1 else f"{kind}s"].format(reps=format_reps(halves))
    elif side is not None and wording.is_difference(finding.measure):
        cue = words["lower-side"].format(lower=side, higher=get_other_side(side))
    elif from_rep is not None and _holds_until(fault, from_rep):
        held = from_rep - 1
        kind = "held" if 2 * held >= len(review.reps) else "held-briefly"
        cue = f"{cue} {words[kind].format(held=wording.count(held, 'rep'))}"
    elif finding.measure == SHARE_OF_RANGE and from_rep:
        cue = f"{cue} {words['range-lost'].format(rep=from_rep)}"
    where = _describe_reps(fault, from_rep, len(review.reps))
    why = [wording.capitalise(f"{where}: {_describe_size(review, fault, side)}.")]
    if fault.grade != "not_met":
        why.append(words["probably"])
    if check is not None and check.protects and fault.weight[0]:
        why.append(words["spares"].format(part=check.protects))
    elif others > 1:
        why.append(words["chosen"].format(amount=others))
    why += _remark_on_count(review)
    return NextCue(
        check=finding.check,
        title=title or wording.capitalise(finding.check.replace("-", " ")),
        cue=wording.capitalise(cue),
        why=" ".join(why),
        reps=fault.reps,
        at_s=finding.at_s,
        side=side,
        from_rep=None if halves else from_rep,
    )


def _tell_lost_form(review: Review, check: Check, change: "Onset") -> NextCue:
    """What got worse within the set of a point whose level is not judged."""
    words = WORDS["next_cue"]
    percent = check.measure in PERCENT
    decimals = count_decimals(change.margin, check.unit, check.measure)
    before, after = (
        format_number(value, check.unit, percent=percent, decimals=decimals) for value in (change.before, change.after)
    )
    by, off = wording.split_margin(format_with_margin(abs(change.change), change.margin, check.unit, check.measure))
    name = wording.get_plain_name(check.measure)
    where = wording.capitalise(words["from-rep"].format(rep=change.rep))
    asked = f", asked for: {wording.format_bound(check)}"
    size = words["lost"].format(name=name, before=before, after=after, by=by, margin=off) + asked
    return NextCue(
        check=check.id,
        title=check.change_title or check.title,
        cue=check.change_cue or check.cue,
        why=" ".join([f"{where}: {size}.", words["plain"], *_remark_on_count(review)]),
        reps=tuple(rep.number for rep in review.reps if rep.number >= change.rep),
        at_s=review.reps[-1].top_s,
        from_rep=change.rep,
    )


def _holds_until(fault: _Fault, from_rep: int) -> bool:
    """Whether what a tired lifter loses was surely kept in the set's first reps and surely went from a rep on."""
    tires = fault.finding.kind == "change" or (fault.check is not None and fault.check.change_at_most is not None)
    tires = tires or fault.finding.measure == SHARE_OF_RANGE
    return tires and fault.grade == "not_met" and from_rep > FIRST_REPS


def find_first_rep(reps: Sequence[int], judged: Sequence[int]) -> int | None:
    """The rep of those at fault from which on most of the judged ones are; None where it is single ones."""
    for rep in sorted(reps):
        after = [number for number in judged if number >= rep]
        if (len(after) > 1 or len(judged) == 1) and sum(number in reps for number in after) >= MOST_OF_REPS * len(
            after
        ):
            return rep
    return None


def _list_half_reps(fault: _Fault) -> tuple[int, ...]:
    """The single reps that went through a part of the range; none where the range shrinks towards the end."""
    if fault.finding.measure != SHARE_OF_RANGE or fault.finding.kind != "level":
        return ()
    if find_first_rep(fault.reps, fault.judged) not in (None, max(fault.judged)):
        return ()
    return fault.reps


def _find_worse_side(review: Review, fault: _Fault) -> Side | None:
    """The side that has the fault: the lower one of a difference, or the only one that is beyond in most reps."""
    finding, check = fault.finding, fault.check
    if check is None:
        return None
    mine = [
        item
        for item in review.measures
        if item.name == finding.measure and item.rep in fault.reps and item.value is not None
    ]
    if wording.is_difference(finding.measure):
        values = [item.value for item in mine if item.value is not None and item.side is None]
        return None if not values else "right" if median(values) > 0 else "left"
    if finding.kind == "change":
        return None
    judged = get_judged_check(check, finding)
    values_of = {side: [item.value for item in mine if item.side == side and item.value is not None] for side in SIDES}
    if not all(values_of.values()):
        return None
    beyond = {side: [compute_excess(judged, value) > judged.tolerance for value in values_of[side]] for side in SIDES}
    for side in SIDES:
        other = beyond[get_other_side(side)]
        if sum(beyond[side]) >= MOST_OF_REPS * len(beyond[side]) and sum(other) <= len(other) / 4:
            return side
    return None


def _describe_reps(fault: _Fault, from_rep: int | None, total: int) -> str:
    words = WORDS["next_cue"]
    if len(fault.reps) == total or not from_rep or from_rep == max(fault.judged):
        return format_reps(fault.reps, total)
    if from_rep > 1 and from_rep > min(set(fault.judged) - set(fault.reps), default=0):
        return words["from-rep"].format(rep=from_rep)
    if len(fault.reps) == len(fault.judged):
        return format_reps(fault.reps)
    return words["most-reps"].format(amount=len(fault.reps), total=len(fault.judged))


def _describe_size(review: Review, fault: _Fault, side: Side | None) -> str:
    """How far off it is at the worst, in words: a level with what is asked for, a change beside the first reps."""
    finding, check, words = fault.finding, fault.check, WORDS["next_cue"]
    if finding.value is None:
        return wording.get_plain_name(finding.measure)
    item = wording.find_quoted_measure(review, finding)
    margin = finding.margin if finding.margin is not None else item.margin if item else None
    unit = check.unit if check else item.unit if item else "deg"
    size = abs(finding.value) if check is not None and check.absolute else finding.value
    if finding.kind == "change":
        word = str(finding.text_coded.parameters.get("word", "worse")) if finding.text_coded else "worse"
        value, off = wording.split_margin(format_with_margin(finding.value, margin, unit, finding.measure))
        said = words["changed"].format(value=value, margin=off, word=word)
        return words["at-worst"].format(amount=said) if len(fault.reps) > 1 else said
    judged = get_judged_check(check, finding) if check else None
    number = (
        format_evidence(judged, finding.value, margin)
        if judged
        else format_with_margin(size, margin, unit, finding.measure)
    )
    value, off = wording.split_margin(number)
    if side is not None and wording.is_difference(finding.measure) and off:
        usual = _find_usual(review, fault)
        if usual is not None and check is not None:
            value, off = wording.split_margin(format_evidence(check, *usual))
        return words["side-lower"].format(lower=side, value=value, margin=off)
    lengths = f" {MEASURES[finding.measure].lengths}".rstrip() if finding.measure in MEASURES else ""
    shown = (words["about"] if off else "{value}{lengths}").format(value=value, margin=off, lengths=lengths)
    if judged is not None and len(fault.reps) > 1:
        shown = words["at-worst"].format(amount=shown)
    name = wording.get_plain_name(finding.measure)
    asked = f", target: {wording.format_bound(judged)}" if judged else ""
    return words["level"].format(name=f"{side} side, {name}" if side else name, amount=shown, asked=asked)


def _find_usual(review: Review, fault: _Fault) -> tuple[float, float] | None:
    """The usual one of the reps' differences and its margin: one wild rep may even be of the other side."""
    found = {
        item.value: item.margin
        for item in review.measures
        if item.name == fault.finding.measure and item.rep in fault.reps and item.value is not None
    }
    usual = median_low(found) if found else 0.0
    margin = found.get(usual)
    return None if margin is None else (usual, margin)


# ---------------------------------------------------------------- nothing to change


def _tell_praise(
    review: Review, exercise: Exercise | None, counts: Mapping[wording.ShownGrade, int], small: Sequence[_Fault]
) -> NextCue:
    """Praise and a next step; of a set with faults too small to be the cue, that, too."""
    words = WORDS["next_cue"]
    seen = sum(counts.values()) - counts["unseen"]
    good = counts["met"] + counts["probably_met"]
    kept = [f"“{get_title(exercise, check)}”" for check, grade in grade_points(review).items() if grade == "met"]
    fewer = _remark_on_count(review)
    clean = good * 2 >= seen and not small
    whole = review.complete_reps == len(review.reps)
    done = wording.count(len(review.reps), "rep") if whole else wording.format_rep_count(review.reps)
    praise = "praise" if whole else "praise-with-partial"
    cue = words[praise if clean else "nothing-stands-out"].format(reps=done)
    step = words["next-step-fewer" if fewer else "next-step"].format(target=wording.describe_target(review.set_info))
    why = [words["kept"].format(points=join_words(kept[:PRAISED]), good=good, seen=seen)] if kept and clean else []
    for fault in small:
        title = fault.check.title if fault.check else get_title(exercise, fault.finding.check)
        why.append(words["small"].format(title=title, reps=format_reps(fault.reps, len(review.reps))))
    if len(review.reps) <= FIRST_REPS:
        why.append(words["few-reps"].format(reps=wording.count(len(review.reps), "rep")))
    if counts["close"]:
        why.append(words["close"].format(amount=counts["close"], seen=seen))
    return NextCue(
        check="",
        title=words["small-title" if small else "praise-title"],
        cue=f"{cue} {step}",
        why=" ".join([*why, *fewer, words["coach-decides"]]),
        reps=(),
        at_s=None,
        kind="praise",
    )


def _tell_filming(review: Review, exercise: Exercise | None, seen: int, total: int) -> NextCue:
    words = WORDS["next_cue"]
    film = list_what_to_film(review, exercise)
    cue = words["little-seen"].format(seen=seen or "None", total=total)
    return NextCue(
        check="",
        title=words["little-seen-title"],
        cue=f"{cue} {film[0]}." if film else cue,
        why=" ".join([words["nothing-in-the-rest"] if seen else "", *_remark_on_count(review)]).strip(),
        reps=(),
        at_s=None,
        kind="film",
    )


def _remark_on_count(review: Review) -> list[str]:
    """That fewer reps were done than the target, in all or of a side; of a damaged clip nobody knows how many were."""
    planned = get_planned_set(None, 1, review.set_info)
    if planned is None or is_clip_damaged(review) or (count_reps_over(planned, review) or 0) >= 0:
        return []
    counts = count_by_either_side(review.reps) if planned.each_side else None
    done = review.complete_reps if counts is None else write_by_side(counts, " and ")
    every = " each side" if planned.each_side else ""
    return [WORDS["next_cue"]["fewer-reps"].format(done=done, target=planned.count, each_side=every)]
