"""Whether formcheck sees a set break down, and how often it cries wolf.

    python tools/benchmarks/fatigue.py [--sets 2000] [--only ROW ...] [--rendered FOLDER ...] [--record FOLDER]

Simulated sets (tools/benchmarks/simulated_sets.py) go through the same functions as reviewed clips. Printed are the
share of unchanged sets in which a breakdown is named, the share of planted losses that are found, and how near the rep
named is to the planted one. Rendered sets follow, each with its planted rep.
"""

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np

from cases import HERE, load_cases, pack
from formcheck.statistics.comparison import compare_sets
from formcheck.statistics.set_trends import find_breakdown, find_form_changes, find_trends
from simulated_sets import Noise, draw_common, heavy_tailed, invented_set, loss, normal, wandering

SHARE = 0.15
PACKED = HERE / "recordings" / "breakdown"
"""Landmarks and truth of the rendered sets."""


def false_alarms(sets: int, n: int, noise: Noise = normal, seed: int = 1) -> tuple[float, float]:
    """Share of unchanged sets of n reps with a breakdown named, and with any trend claimed."""
    rng = np.random.default_rng([seed, n])
    named = claimed = 0
    for _ in range(sets):
        review = invented_set(rng, n, noise=noise)
        named += find_breakdown(find_form_changes(review)) is not None
        claimed += any(trend.call == "changed" for trend in find_trends(review))
    return named / sets, claimed / sets


def found_losses(
    sets: int, firsts: Sequence[int], *, n: int = 10, grows: bool, share: float = SHARE, seed: int = 2
) -> tuple[float, float, float]:
    """Of sets that lose range: share found; of these, share named within one rep, and share inside the likely reps."""
    rng = np.random.default_rng([seed, n, *firsts, grows])
    found = near = held = 0
    for _ in range(sets):
        first = int(rng.choice(firsts))
        named = find_breakdown(find_form_changes(invented_set(rng, n, course=loss(n, first, share, grows=grows))))
        if named is not None:
            found += 1
            near += abs(named.rep - first) <= 1
            held += first in named.likely
    return found / sets, near / max(found, 1), held / max(found, 1)


def between_sets(sets: int, lost: float, *, n: int = 10, same_session: bool, seed: int = 3) -> float:
    """Share of pairs of sets in which a change of any measure is claimed when the second has lost so much range."""
    rng = np.random.default_rng([seed, n, same_session])
    claimed = 0
    for _ in range(sets):
        common = draw_common(rng)
        first = invented_set(rng, n, common=common)
        course = {"range_of_motion": np.full(n, -lost)}
        second = invented_set(rng, n, course=course, common=common if same_session else draw_common(rng))
        result = compare_sets(first, second, same_session=same_session)
        claimed += any(item.call == "changed" for item in result.differences)
    return claimed / sets


def rows_of(sets: int) -> Mapping[str, Mapping[str, Callable[[], str]]]:
    """Head of each part of the table → label of a row → what makes its figures, each by numbers of its own."""

    def alarms(n: int, noise: Noise = normal) -> Callable[[], str]:
        return lambda: "{:17.1%}{:15.1%}".format(*false_alarms(sets, n, noise))

    def losses(*, grows: bool) -> Callable[[], str]:
        return lambda: "{:17.1%}{:15.1%}{:11.1%}".format(*found_losses(sets, range(4, 9), grows=grows))

    def pairs(lost: float) -> Callable[[], str]:
        return lambda: "{:17.1%}{:15.1%}".format(*(between_sets(sets, lost, same_session=one) for one in (True, False)))

    return {
        f"{'unchanged sets':44}{'breakdown named':>17}{'trend claimed':>15}": {
            **{f"{n} reps": alarms(n) for n in (5, 6, 8, 10, 12, 15)},
            "10 reps, wild values among them": alarms(10, heavy_tailed),
            "10 reps, values with a memory of 0.3": alarms(10, wandering),
        },
        f"{f'sets of 10 that lose {SHARE:.0%} of range':44}{'found':>17}{'within 1 rep':>15}{'in likely':>11}": {
            "evenly from the first rep to the last": lambda: f"{found_losses(sets, [2], grows=True)[0]:17.1%}",
            "at once from rep 4–8": losses(grows=False),
            "growing from rep 4–8": losses(grows=True),
        },
        f"{'two sets of 10 reps, any change claimed':44}{'one camera':>17}{'set up anew':>15}": {
            f"range lower by {lost:.0f}°" if lost else "nothing changed": pairs(lost) for lost in (0.0, 4.0, 9.0, 18.0)
        },
    }


def simulated(sets: int, only: Sequence[str] = ()) -> None:
    """Print the figures of simulated sets; `only` the rows of these labels."""
    print(f"{sets} simulated sets a line")
    for head, rows in rows_of(sets).items():
        wanted = {label: made for label, made in rows.items() if not only or label in only}
        if wanted:
            print(f"\n{head}")
        for label, made in wanted.items():
            print(f"{label:44}{made()}", flush=True)


def rendered(folders: Sequence[Path]) -> tuple[int, int]:
    """Print the rep named beside the planted one; → sets named within one rep, unchanged sets with one named."""
    from formcheck.analysis import analyse
    from formcheck.exercises.registry import get_exercise

    planted = right = unchanged = alarms = 0
    print(f"\n{'rendered set':58}{'planted':>8}{'named':>7}  likely")
    for folder in folders:
        for case in load_cases(folder):
            first = min((min(reps) for _, reps in case.faults), default=None)
            review = analyse(case.recording, get_exercise(case.exercise)).review
            named = find_breakdown(find_form_changes(review))
            if first is None:
                unchanged += 1
                alarms += named is not None
            else:
                planted += 1
                right += named is not None and abs(named.rep - first) <= 1
            likely = "" if named is None else f"{min(named.likely)}–{max(named.likely)} {named.first[0].aspect}"
            print(f"{case.name:58}{first or '-':>8}{'-' if named is None else named.rep:>7}  {likely}")
    within = f"named within one rep: {right} of {planted} planted"
    print(f"rendered sets: {within}; named in {alarms} of {unchanged} unchanged sets")
    return right, alarms


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sets", type=int, default=2000, help="simulated sets a line (default 2000; 0: none)")
    parser.add_argument("--rendered", type=Path, nargs="*", default=[PACKED], metavar="FOLDER")
    parser.add_argument("--record", type=Path, metavar="FOLDER", help="pack the landmarks of rendered sets, and end")
    labels = [label for rows in rows_of(0).values() for label in rows]
    parser.add_argument("--only", action="append", metavar="ROW", choices=labels, help="one row of simulated sets")
    arguments = parser.parse_args()
    if arguments.record:
        PACKED.mkdir(parents=True, exist_ok=True)
        for clip in sorted(arguments.record.glob("*.mp4")):
            if clip.with_name(f"{clip.stem}.truth.json").exists():
                pack(clip, PACKED, with_joints=False)
        return 0
    if arguments.sets:
        simulated(arguments.sets, arguments.only or ())
    if arguments.rendered:
        rendered(arguments.rendered)
    return 0


if __name__ == "__main__":
    sys.exit(main())
