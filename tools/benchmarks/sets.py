"""How near formcheck comes to the truth on the rendered sets of all 13 exercises.

    python tools/benchmarks/sets.py                   the tuning sets
    python tools/benchmarks/sets.py --part PART       another part; a reporting part is opened once
    python tools/benchmarks/sets.py --only WORD ...   sets whose name holds one of the words
    python tools/benchmarks/sets.py --list            a line a set: reps found and true, faults, alarms

Prints reps, faults and alarms by exercise; then, for every measure and camera, number, bias, mean error, 95th
percentile and truths inside the margin; then the same of the main angles by build of the body.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from formcheck.analysis import CameraAnalysis
from formcheck.findings import judge_set
from rendered_sets import RenderedSet, Row, analyse_set, beyond_limits, compare, map_sets

MAIN = (
    *("arm_elevation_peak", "arm_raise_peak", "arm_flexion_peak", "arm_opening_peak", "elbow_flexion_max"),
    *("elbow_flexion_min", "torso_inclination_mean", "torso_inclination_range", "thigh_inclination_peak"),
    *("knee_flexion_max", "arm_peak_difference", "eccentric_time"),
)
CUT_S = 0.5
"""A rep whose middle lies so far outside the planned ones is cut by the clip's end."""
PLACES = ("near", "mid", "half", "side", "behind", "back")


@dataclass(frozen=True)
class Outcome:
    """What became of one set."""

    name: str
    exercise: str
    build: str
    place: str
    sides: str
    true_reps: int
    found_reps: int
    right: bool
    """The number of reps is right, and each is rightly whole or partial."""
    right_by_side: bool
    """So many of each arm, of both at once where both worked at once."""
    faulty: tuple[str, ...]
    """Checks whose truth lies beyond where a fault begins."""
    named: tuple[str, ...]
    """Checks found not met."""
    wrong: tuple[str, ...]
    """Checks found not met although the truth keeps the limit."""
    rows: tuple[Row, ...]


def outcome_of(one: RenderedSet) -> Outcome:
    """Review one set and hold it against its truth."""
    look = analyse_set(one)
    findings = judge_set(one.exercise, look.readings, look.reps, look.camera.name).findings
    named = {item.check for item in findings if item.verdict == "not_met" and item.check}
    excess = beyond_limits(one, one.true_measures(look)[1])
    whole = sum(rep.complete for rep in look.reps)
    return Outcome(
        one.name,
        one.exercise.id,
        one.document["build"],
        one.document["place"],
        one.document["sides"],
        len(one.planned),
        len(look.reps),
        len(look.reps) == len(one.planned) and whole == one.whole_reps,
        count_sides(look, one) == Counter(rep["side"] for rep in one.planned),
        tuple(sorted(check for check, value in excess.items() if value.usual >= 1.0)),
        tuple(sorted(named)),
        tuple(sorted(check for check in named if check in excess and excess[check].most <= 0.0)),
        tuple(compare(one, look)),
    )


def count_sides(look: CameraAnalysis, one: RenderedSet) -> Counter[str]:
    """Reps found by the arm that made them; one that the clip's ends cut is planned in no set and not counted."""
    begin, end = one.planned[0]["start"] - CUT_S, one.planned[-1]["end"] + CUT_S
    return Counter(rep.side or "both" for rep in look.reps if begin < (rep.start_s + rep.end_s) / 2 < end)


def side_lines(outcomes: Sequence[Outcome]) -> list[str]:
    """Counts a side of sets of one arm or both in turn, by where the camera stands; then sets of both arms at once."""
    lines = [f"{'counts a side':28}{'sets':>6}{'exact':>8}"]
    single = [one for one in outcomes if one.sides != "both"]
    groups = {f"one arm, or in turn: {place}": [one for one in single if one.place == place] for place in PLACES}
    groups |= {"one arm, or in turn: all": single, "both at once": [one for one in outcomes if one.sides == "both"]}
    for name, mine in groups.items():
        if mine:
            lines.append(f"{name:28}{len(mine):6}{sum(one.right_by_side for one in mine):8}")
    return lines


def exercise_lines(outcomes: Sequence[Outcome]) -> list[str]:
    """Reps, faults and alarms by exercise; sets of one arm or both in turn are a line of their own."""
    lines = [f"{'exercise':28}{'sets':>6}{'reps right':>12}{'faults named':>14}{'false alarms':>14}"]
    groups: dict[str, list[Outcome]] = defaultdict(list)
    for one in outcomes:
        groups[one.exercise if one.sides == "both" else "(one arm, or in turn)"].append(one)
    groups["all with both sides"] = [one for one in outcomes if one.sides == "both"]
    for name, mine in groups.items():
        faults = sum(len(one.faulty) for one in mine)
        found = sum(len(set(one.faulty) & set(one.named)) for one in mine)
        lines.append(
            f"{name:28}{len(mine):6}{sum(one.right for one in mine):12}{f'{found} of {faults}':>14}"
            f"{sum(bool(one.wrong) for one in mine):14}"
        )
    return lines


def error_lines(rows: Sequence[Row], kinds: Sequence[str], kind_of: Callable[[Row], str]) -> list[str]:
    """A line a measure and kind (camera or build)."""
    lines = [f"{'measure':26}{'':20}{'sets':>5}{'n':>6}{'bias':>8}{'mean':>8}{'95 %':>8}{'inside':>8}"]
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row.measure, kind_of(row)].append(row)
    for measure in sorted({name for name, _ in groups}):
        for kind in kinds:
            if mine := groups.get((measure, kind)):
                errors = np.array([row.error for row in mine])
                inside = np.mean([abs(row.error) <= row.margin for row in mine])
                lines.append(
                    f"{measure:26}{kind:20}{len({row.set_name for row in mine}):5}{len(mine):6}{errors.mean():8.2f}"
                    f"{np.abs(errors).mean():8.2f}{np.percentile(np.abs(errors), 95):8.2f}{inside:8.0%}"
                )
    return lines


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", default="tuning")
    parser.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="sets whose name holds one of these")
    parser.add_argument("--list", action="store_true", help="a line a set")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    outcomes = list(map_sets(outcome_of, options.part, options.only, processes=options.processes))
    if options.list:
        for one in outcomes:
            print(
                f"{one.name:34}{one.place:8}{one.found_reps:3} ({one.true_reps}) {'' if one.right else 'COUNT':6}"
                f"faults {', '.join(one.faulty) or '-'}; named {', '.join(one.named) or '-'}"
                + (f"; FALSE {', '.join(one.wrong)}" if one.wrong else "")
            )
        print()
    rows = [row for one in outcomes if one.sides == "both" for row in one.rows]
    builds = sorted({one.build for one in outcomes})
    print("\n".join(exercise_lines(outcomes)), "\n")
    print("\n".join(side_lines(outcomes)), "\n")
    print("\n".join(error_lines(rows, PLACES, lambda row: row.place)), "\n")
    main_rows = [row for row in rows if row.measure in MAIN]
    print("\n".join(error_lines(main_rows, builds, lambda row: row.build)), "\n")
    inside = np.mean([abs(row.error) <= row.margin for row in rows])
    print(f"truths inside the margin: {inside:.1%} of {len(rows)}")


if __name__ == "__main__":
    main()
