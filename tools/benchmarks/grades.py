"""What graded verdicts come to on the rendered sets: how much is decided, what is found, and whether grades hold.

    python tools/benchmarks/grades.py                      the tuning sets
    python tools/benchmarks/grades.py --only WORD ...      sets whose name holds one of the words
    python tools/benchmarks/grades.py --by measure         what decides too little, by exercise and check besides
    python tools/benchmarks/grades.py --part reporting-1 --open    opens a reporting part, which is done once

A *claimed* check is one that a camera from this side may decide. A planted fault is *seen* where the truth of a claimed
check lies beyond its limit in most of the reps that have the fault, by half of the fault's size or more (`coach_size`),
or where a quarter of the later ones have changed by more than may be; it is *found* where the set, or one of these
reps, is (probably) not met. *Truly beyond* are, for a rep, a true value beyond limit and tolerance; for a set, a
quarter of the judged reps, at least one.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from formcheck.analysis import CameraAnalysis
from formcheck.core.model import Finding, FindingKind, Grade, Point, Rep
from formcheck.exercises.schema import Check, Exercise
from formcheck.findings import judge_set
from formcheck.statistics.change_in_set import FIRST_REPS
from formcheck.statistics.reps_beyond import count_needed
from formcheck.verdicts import compute_excess, compute_probability, get_verdict, grade_value
from rendered_sets import Key, RenderedSet, analyse_set, map_sets

GRADES: tuple[Grade, ...] = ("not_met", "probably_not_met", "close", "probably_met", "met")
SEEN_FROM = {"front": ("front",), "back": ("back",), "side": ("left", "right")}
"""Best view of an exercise → the views it means."""


@dataclass(frozen=True)
class Said:
    """One grade beside the truth."""

    kind: FindingKind
    measure: str
    grade: Grade
    probability: float
    beyond: bool
    """Whether the truth is beyond."""


@dataclass(frozen=True)
class Outcome:
    """What was said of one check of one set."""

    exercise: str
    check: str
    measure: str
    as_asked: bool
    """Whether the camera stands where the exercise asks for it."""
    claimed: bool
    point: Point


@dataclass(frozen=True)
class PlantedFault:
    """What became of one planted fault."""

    kind: str
    large: bool
    seen: bool
    found: bool
    surely: bool
    praised: bool
    """No check that shows it was (probably) not met, and one was (probably) met."""


@dataclass(frozen=True)
class SetResult:
    """One set."""

    name: str
    clean: bool
    untold: int
    outcomes: tuple[Outcome, ...]
    reps: tuple[Said, ...]
    """One for each value that was judged."""
    sets: tuple[Said, ...]
    """One for each point that has a grade and a truth."""
    alarms: tuple[tuple[str, Grade], ...]
    """Check and grade of points (probably) not met though no rep is truly beyond."""
    faults: tuple[PlantedFault, ...]


def judge_rendered_set(one: RenderedSet) -> SetResult:
    """Review one set and hold what was said against its truth."""
    return hold(one, analyse_set(one))


def hold(one: RenderedSet, look: CameraAnalysis) -> SetResult:
    """What was said of a set beside its truth."""
    exercise = one.exercise
    true_reps, truth = one.true_measures(look)
    judged = judge_set(exercise, look.readings, look.reps, look.camera.name)
    partners = pair_reps(look.reps, true_reps)
    checks = {check.id: check for check in exercise.checks}
    as_asked = look.camera.name in SEEN_FROM.get(exercise.filming.best_view, (exercise.filming.best_view,))
    outcomes, sets, alarms = [], [], []
    for point in judged.points:
        check = checks.get(point.check)
        if check is None:
            continue
        if point.kind == "level":
            claimed = look.camera.name in exercise.views_for(check)
            outcomes.append(Outcome(exercise.id, check.id, check.measure, as_asked, claimed, point))
        if point.grade is None or point.probability is None:
            continue
        excess = true_excess(check, point.kind, point.reps, look.reps, partners, truth)
        if len(excess) < len(point.reps):
            continue
        amount = sum(value > 0 for value in excess.values())
        beyond = amount >= count_needed(len(point.reps))
        sets.append(Said(point.kind, check.measure, point.grade, point.probability, beyond))
        if point.verdict == "not_met" and not amount:
            alarms.append((f"{check.id}{' (change)' if point.kind == 'change' else ''}", point.grade))
    return SetResult(
        one.name,
        not one.document["faults"],
        len(exercise.untold),
        tuple(outcomes),
        tuple(grade_values(exercise, look, partners, truth)),
        tuple(sets),
        tuple(alarms),
        tuple(
            hold_fault(fault, exercise, judged.points, judged.findings, look, partners, truth)
            for fault in one.document["faults"]
        ),
    )


def pair_reps(found: Sequence[Rep], true_reps: Sequence[Rep]) -> dict[int, int]:
    """Number of a found rep → number of the true one nearest in time."""
    if not true_reps:
        return {}
    middles = np.array([(rep.start_s + rep.end_s) / 2 for rep in true_reps])
    return {
        rep.number: true_reps[int(np.abs(middles - (rep.start_s + rep.end_s) / 2).argmin())].number for rep in found
    }


def grade_values(
    exercise: Exercise, look: CameraAnalysis, partners: Mapping[int, int], truth: Mapping[Key, float]
) -> Iterator[Said]:
    """Each value that a check judges, beside its truth."""
    for check in exercise.checks:
        if look.camera.name not in exercise.views_for(check):
            continue
        for reading in look.readings:
            item = reading.measure
            if item.name != check.measure or item.value is None or item.margin is None or item.rep is None:
                continue
            if check.reps == "complete" and not look.reps[item.rep - 1].complete:
                continue
            value = truth.get((item.name, item.side, partners.get(item.rep, 0)))
            if value is None:
                continue
            chance = compute_probability(check, item.value, item.margin)
            grade = grade_value(check, item.value, item.margin)
            beyond = compute_excess(check, value) > check.tolerance
            yield Said("level", check.measure, grade, chance, beyond)


def true_excess(
    check: Check,
    kind: FindingKind,
    numbers: Sequence[int],
    reps: Sequence[Rep],
    partners: Mapping[int, int],
    truth: Mapping[Key, float],
) -> dict[int, float]:
    """Rep → how far its truth is beyond the limit (of a change: that of the change), on its worse side."""
    result: dict[int, float] = {}
    first = [rep.number for rep in reps if rep.complete][:FIRST_REPS]
    for side in ("left", "right", None):

        def read(rep: int, side: str | None = side) -> float | None:
            value = truth.get((check.measure, side, partners.get(rep, 0)))
            return None if value is None else compute_excess(check, value) - check.tolerance

        begun = [value for value in map(read, first) if value is not None]
        for rep in numbers:
            excess = read(rep)
            if excess is None or (kind == "change" and len(begun) < FIRST_REPS):
                continue
            if kind == "change":
                excess -= float(np.mean(begun)) + (check.change_at_most or 0.0)
            result[rep] = max(result.get(rep, -np.inf), excess)
    return result


def hold_fault(
    fault: Mapping[str, object],
    exercise: Exercise,
    points: Sequence[Point],
    findings: Sequence[Finding],
    look: CameraAnalysis,
    partners: Mapping[int, int],
    truth: Mapping[Key, float],
) -> PlantedFault:
    """Whether a planted fault shows in the truth of a claimed check, and what was said of it."""
    planted = set(fault["reps"])  # type: ignore[call-overload]
    having = [rep for rep, partner in partners.items() if partner in planted]
    shown: dict[str, FindingKind] = {}
    for check in exercise.checks:
        if look.camera.name not in exercise.views_for(check):
            continue
        excess = true_excess(check, "level", having, look.reps, partners, truth)
        least = coach_size(check) / 2
        if excess and sum(value >= least for value in excess.values()) >= len(having) / 2:
            shown[check.id] = "level"
        elif check.change_at_most is not None:
            first = [rep.number for rep in look.reps if rep.complete][:FIRST_REPS]
            later = [rep for rep in having if len(first) == FIRST_REPS and rep > first[-1]]
            changed = true_excess(check, "change", later, look.reps, partners, truth)
            if changed and sum(value > 0 for value in changed.values()) >= count_needed(len(later)):
                shown[check.id] = "change"
    said: set[Grade] = {item.grade for item in points if item.check in shown and item.grade is not None}
    said_of_reps = [item for item in findings if item.check in shown and set(item.reps) & set(having)]
    grades = said | {item.grade for item in said_of_reps if item.grade and get_verdict(item.grade) == "not_met"}
    found = bool({"not_met", "probably_not_met"} & grades)
    of_kind = {item.grade for item in points if shown.get(item.check) == item.kind}
    praised = not found and bool({"met", "probably_met"} & of_kind)
    return PlantedFault(
        str(fault["kind"]), bool(fault["large"]), bool(shown), found, "not_met" in grades, praised and bool(shown)
    )


def coach_size(check: Check) -> float:
    """How far beyond the limit a coach would just name a fault (`tools/render/set_faults.py`), in the check's unit."""
    if check.unit == "deg":
        return 10.0 if "difference" in check.measure or "range" in check.measure else 8.0
    if check.unit == "s":
        return 0.3
    return 0.1


def review_all(part: str, words: Sequence[str], processes: int) -> list[SetResult]:
    """A part's sets, in the order of their names."""
    return list(map_sets(judge_rendered_set, part, words, processes=processes))


def decided_lines(results: Sequence[SetResult]) -> list[str]:
    """How much is decided."""
    outcomes = [item for one in results for item in one.outcomes]

    def share(mine: Sequence[Outcome]) -> str:
        undecided = sum(item.point.verdict == "undecided" for item in mine)
        return f"{undecided / max(len(mine), 1):6.0%} of {len(mine)}"

    claimed = [item for item in outcomes if item.claimed]
    asked = [item for item in outcomes if item.as_asked]
    numberless = sum(item.point.grade is None for item in claimed)
    return [
        f"{'claimed checks close or without a number':52}{share(claimed)} ({numberless} without a number)",
        f"{'all checks undecided, camera as the exercise asks':52}{share(asked)}",
        f"{'all checks undecided, any camera':52}{share(outcomes)}",
        f"{'points that no camera tells':52}{sum(one.untold for one in results):6}",
    ]


def fault_lines(results: Sequence[SetResult]) -> list[str]:
    """Planted faults by kind: found, and found surely, of those that the truth of a claimed check shows."""
    lines = [f"{'planted fault':24}{'a coach would just name':>28}{'larger':>24}{'praised':>9}{'not seen':>10}"]
    groups: dict[str, list[PlantedFault]] = defaultdict(list)
    for fault in (fault for one in results for fault in one.faults):
        groups[fault.kind].append(fault)
    groups["all"] = [fault for mine in list(groups.values()) for fault in mine]
    for kind, mine in groups.items():
        cells = []
        for large in (False, True):
            size = [fault for fault in mine if fault.seen and fault.large == large]
            found, surely = sum(fault.found for fault in size), sum(fault.surely for fault in size)
            cells.append(f"{found} of {len(size)} ({surely} sure)" if size else "-")
        praised = sum(fault.praised for fault in mine)
        lines.append(f"{kind:24}{cells[0]:>28}{cells[1]:>24}{praised:9}{sum(not fault.seen for fault in mine):10}")
    return lines


def alarm_lines(results: Sequence[SetResult]) -> list[str]:
    """Sets with an alarm though no rep is truly beyond."""
    lines = [f"{'false alarms':24}{'sets':>8}{'sure':>8}{'probable':>10}"]
    for name, mine in (("clean sets", [one for one in results if one.clean]), ("all sets", results)):
        sure = sum(any(grade == "not_met" for _, grade in one.alarms) for one in mine)
        probable = sum(bool(one.alarms) for one in mine) - sure
        lines.append(f"{name:24}{len(mine):8}{sure:8}{probable:10}")
    which = Counter((check, grade) for one in results for check, grade in one.alarms)
    lines += [f"    {check} {grade}: {amount}" for (check, grade), amount in which.most_common(12)]
    return lines


def calibration_lines(said: Sequence[Said], heading: str) -> list[str]:
    """For each grade: how often it was given, how often the truth was beyond, and the mean probability given."""
    lines = [f"{heading:28}{'n':>7}{'truly beyond':>14}{'said':>8}"]
    for grade in GRADES:
        mine = [item for item in said if item.grade == grade]
        if mine:
            beyond, chance = np.mean([item.beyond for item in mine]), np.mean([item.probability for item in mine])
            lines.append(f"  {grade:26}{len(mine):7}{beyond:14.1%}{chance:8.1%}")
    return lines


def measure_lines(results: Sequence[SetResult]) -> list[str]:
    """By exercise and check: sets in which it is claimed, how many of them each grade has."""
    head = "".join(f"{name:>10}" for name in ("not met", "probably", "close", "probably", "met", "none"))
    lines = [f"{'exercise':24}{'check':24}{'measure':26}{'claimed':>8}{head}"]
    groups: dict[tuple[str, str, str], list[Outcome]] = defaultdict(list)
    for item in (item for one in results for item in one.outcomes if item.claimed):
        groups[item.exercise, item.check, item.measure].append(item)

    def undecided(mine: Sequence[Outcome]) -> int:
        return sum(item.point.verdict == "undecided" for item in mine)

    for key, mine in sorted(groups.items(), key=lambda pair: -undecided(pair[1])):
        counts = Counter(item.point.grade for item in mine)
        cells = "".join(f"{counts.get(grade, 0):10}" for grade in (*GRADES, None))
        lines.append(f"{key[0]:24}{key[1]:24}{key[2]:26}{len(mine):8}{cells}")
    return lines


def table(results: Sequence[SetResult]) -> list[str]:
    """The whole table."""
    sets = [item for one in results for item in one.sets]
    return [
        f"{len(results)} sets",
        *decided_lines(results),
        "",
        *fault_lines(results),
        "",
        *alarm_lines(results),
        "",
        *calibration_lines([item for one in results for item in one.reps], "grade of a value"),
        "",
        *calibration_lines([item for item in sets if item.kind == "level"], "grade of a set"),
        "",
        *calibration_lines([item for item in sets if item.kind == "change"], "grade of a change"),
    ]


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", default="tuning")
    parser.add_argument("--open", action="store_true", help="open a reporting part: done once, nothing is chosen by it")
    parser.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="sets whose name holds one of these")
    parser.add_argument("--by", choices=["measure"], help="also list what is decided by exercise and check")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    if options.part.startswith("reporting") and not options.open:
        print(f"{options.part} is opened once, and nothing is chosen by it: say --open to open it.", file=sys.stderr)
        return 2
    results = review_all(options.part, options.only, options.processes)
    print("\n".join(table(results)))
    if options.by == "measure":
        print("\n".join(["", *measure_lines(results)]))
    return 0


if __name__ == "__main__":
    sys.exit(main())
