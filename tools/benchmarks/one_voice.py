"""Whether what is told of a set's early and late reps agrees, and how near the rep and the kind named are to the truth.

    python tools/benchmarks/one_voice.py                 the tuning sets of five reps and more
    python tools/benchmarks/one_voice.py --only WORD ... sets whose name holds one of the words
    python tools/benchmarks/one_voice.py --list          a line for each contradiction and each wrong rep or kind

A contradiction is: a finding that holds from a rep on before the course has its aspect of form begin, or that what
became worse by a finding is no part of the course; an aspect that early and late reps are said to differ in for the
worse and the course does not name; a caption of the trend that names another rep than the finding or the course.
"""

from __future__ import annotations

import argparse
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from fatigue import find_first_rep
from formcheck.analysis import analyse
from formcheck.core.model import Review
from formcheck.exercises.schema import Exercise
from formcheck.report.cue_trend import make_cue_trend
from formcheck.report.next_cue import choose_next_cue
from formcheck.statistics.comparison import compare_early_with_late
from formcheck.statistics.detectable_change import compute_detectable_change
from formcheck.statistics.onset import fit_step
from formcheck.statistics.rep_series import ASPECTS, is_worse, list_series
from formcheck.statistics.results import Aspect, Breakdown
from formcheck.statistics.set_trends import analyse_set
from formcheck.statistics.told_changes import CHANCE, get_aspect, list_told_changes
from rendered_sets import RenderedSet, map_sets

FEWEST_REPS = 5
ASPECTS_OF: Mapping[Aspect, tuple[str, ...]] = {
    "range": (
        *("range_fades", "falls_short", "gets_shallow", "half_reps", "stops_at_shoulders"),
        *("not_straightened", "not_upright"),
    ),
    "lowering": ("fast_lowering",),
    "torso": (
        *("swings", "leans_back", "leans_sideways", "torso_jerks", "torso_rises", "torso_drifts_up", "tips_forward"),
        *("chest_lifts", "chest_leaves_pad", "leans_back_at_top", "hips_first", "not_upright"),
    ),
    "asymmetry": ("one_side_lower",),
    "posture": (
        *("knees_bend", "elbows_bent", "upper_arm_drifts", "forearms_not_upright", "knees_in", "neck_back", "shrugs"),
        *("not_straightened", "not_upright"),
    ),
}
KINDS: Mapping[str, frozenset[Aspect]] = {
    kind: frozenset(aspect for aspect, mine in ASPECTS_OF.items() if kind in mine)
    for kinds in ASPECTS_OF.values()
    for kind in kinds
}
"""Planted faults and the aspects of form they change; what is in no aspect is left out."""


@dataclass(frozen=True)
class Heard:
    """What is told of one set."""

    name: str
    kind: str
    first: int | None
    """The rep from which the planted fault goes on to the last."""
    breakdown: Breakdown | None
    contradictions: tuple[str, ...]
    seen: bool
    """A measure of the planted kind differs from that rep on by more than chance and measuring make."""
    last_alone: bool
    """The planted fault is that of the last rep alone."""


def find_contradictions(review: Review, exercise: Exercise | None) -> Iterator[str]:
    """What is said of one set's early and late reps that does not agree, a sentence each."""
    course = analyse_set(review)
    begins = {item.aspect: item.rep for item in course.onsets if item.worse}
    for told in list_told_changes(review):
        if told.finding.kind == "change" and not told.of_set and told.aspect not in begins:
            yield f"{told.finding.check} is worse from rep {told.rep} on, and the course is silent on {told.aspect}"
        if told.rep < begins.get(told.aspect, 0):
            yield f"{told.finding.check} from rep {told.rep} on, {told.aspect} from {begins[told.aspect]} on"
    directions = {name: worse for _, candidates in ASPECTS for name, worse in candidates}
    for item in compare_early_with_late(review).differences:
        told_of = item.call != "changed" or item.aspect is None or item.aspect in begins
        if not told_of and is_worse(directions[item.measure], item.before, item.after):
            yield f"late reps are worse in {item.aspect}, and the course is silent"
    if course.breakdown is not None and course.breakdown.rep != min(begins.values()):
        yield f"broke down from rep {course.breakdown.rep}, {begins}"
    cue = choose_next_cue(review, exercise)
    trend = make_cue_trend(review, exercise, cue) if cue is not None else None
    if cue is not None and trend is not None and trend.caption and trend.turn is not None:
        aspect = get_aspect(trend.check.measure)
        named = {cue.from_rep, *begins.values()} - {None}
        if trend.turn not in named or (cue.from_rep is not None and cue.from_rep < begins.get(aspect, 0)):
            yield f"the caption names rep {trend.turn}, else told are {sorted(filter(None, named))}"


def find_visible(review: Review, aspects: Collection[Aspect], first: int) -> Iterator[str]:
    """Measures of these aspects that differ from a rep on by more than chance (5 %) and measuring make."""
    for item in list_series(review):
        step = fit_step(item.values, sum(rep < first for rep in item.reps), item.scatter)
        if get_aspect(item.measure) not in aspects or step is None or step.p > CHANCE:
            continue
        if abs(step.after - step.before) > compute_detectable_change(item.scatter):
            yield item.measure


def hear(one: RenderedSet) -> Heard | None:
    """What is told of a rendered set; None of one with too few reps."""
    if len(one.planned) < FEWEST_REPS:
        return None
    faults = one.document["faults"]
    kind, first = faults[0]["kind"] if faults else "none", find_first_rep(faults, len(one.planned))
    review = analyse(one.recording, one.exercise).review
    return Heard(
        one.name,
        kind,
        first,
        analyse_set(review).breakdown,
        tuple(find_contradictions(review, one.exercise)),
        first is not None and any(find_visible(review, KINDS.get(kind, frozenset()), first)),
        first == len(one.planned),
    )


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="sets whose name holds one of these")
    parser.add_argument("--list", action="store_true", help="a line for each contradiction, wrong rep and wrong kind")
    options = parser.parse_args()
    heard = [one for one in map_sets(hear, "tuning", options.only) if one is not None]
    wrong = [(one, sentence) for one in heard for sentence in one.contradictions]
    planted = [(one, one.first, one.breakdown) for one in heard if one.first is not None and one.breakdown is not None]
    near = [one.name for one, first, found in planted if abs(found.rep - first) <= 1]
    known = [(one, found) for one, _, found in planted if one.kind in KINDS]
    right = [one.name for one, found in known if {item.aspect for item in found.first} & KINDS[one.kind]]
    if options.list:
        for one, sentence in wrong:
            print(f"{one.name:36}{sentence}")
        for one, first, found in planted:
            if one.name not in near or (one.kind in KINDS and one.name not in right):
                print(f"{one.name:36}{one.kind} from rep {first}: {found.sentence}")
    missed = [one for one in heard if one.first is not None and one.breakdown is None]
    if options.list:
        for one in missed:
            print(f"{one.name:36}{one.kind} from rep {one.first}: not named{', though measured' if one.seen else ''}")
    clean = [one for one in heard if one.kind == "none"]
    print(f"sets of {FEWEST_REPS} reps and more: {len(heard)}; contradictions: {len(wrong)}")
    print(f"fault planted from a rep to the last: {sum(one.first is not None for one in heard)}, named: {len(planted)}")
    print(f"  not named, fault of the last rep alone: {sum(one.last_alone for one in missed)}")
    small = [one for one in missed if not one.seen and not one.last_alone]
    print(f"  not named, and no measure of its kind changes by more than chance and measuring make: {len(small)}")
    print(f"  named within one rep of it: {format_share(len(near), len(planted))}")
    print(f"  what broke first is of the kind planted: {format_share(len(right), len(known))}")
    named = sum(one.breakdown is not None for one in clean)
    print(f"without a fault, and a breakdown named: {format_share(named, len(clean))}")


def format_share(some: int, among: int) -> str:
    """Such as ``9 of 10 (90%)``."""
    return f"{some} of {among} ({some / max(among, 1):.0%})"


if __name__ == "__main__":
    main()
