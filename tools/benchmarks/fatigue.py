"""Whether formcheck sees a set break down, and how often it names a breakdown where there is none.

    python tools/benchmarks/fatigue.py [--sets 2000] [--only ROW ...] [--no-rendered] [--list]

Simulated sets (tools/benchmarks/simulated_sets.py) go through the same functions as reviewed clips. Printed are the
share of unchanged sets in which a breakdown is named, the share of planted losses that are found, and how near the rep
named is to the planted one. Rendered tuning sets follow: those with a fault from one rep to the last, by kind of fault.
"""

import argparse
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from formcheck.analysis import analyse
from formcheck.statistics.comparison import compare_sets
from formcheck.statistics.results import Breakdown
from formcheck.statistics.set_trends import find_breakdown, find_form_changes, find_trends
from formcheck.statistics.side_trend import find_side_trend
from rendered_sets import RenderedSet, map_sets
from simulated_sets import SIDES_OVER_WEEKS, Noise, draw_common, heavy_tailed, invented_set, loss, normal, wandering

SHARE = 0.15


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
    sets: int, firsts: Sequence[int], *, n: int = 10, grows: bool, seed: int = 2
) -> tuple[float, float, float]:
    """Of sets that lose range: share found; of these, share named within one rep, and share inside the likely reps."""
    rng = np.random.default_rng([seed, n, *firsts, grows])
    found = near = held = 0
    for _ in range(sets):
        first = int(rng.choice(firsts))
        named = find_breakdown(find_form_changes(invented_set(rng, n, course=loss(n, first, SHARE, grows=grows))))
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


def side_trends(sets: int, moved: float) -> float:
    """Share of courses of a set a session in which a trend of left against right is claimed; it moves by `moved`°."""
    sessions, n = 4, 8
    rng = np.random.default_rng([4, sessions, n])
    claimed = 0
    for _ in range(sets):
        reviews = []
        for at in np.linspace(0.0, moved, sessions):
            course = {name: np.full(n, -at) for name in SIDES_OVER_WEEKS}
            reviews.append(invented_set(rng, n, course=course, kinds=SIDES_OVER_WEEKS))
        trend = find_side_trend(reviews)
        claimed += trend is not None and trend.call == "changed"
    return claimed / sets


def rows_of(sets: int) -> Mapping[str, Mapping[str, Callable[[], str]]]:
    """Head of each part of the table → label of a row → what makes its figures, each by numbers of its own."""

    def alarms(n: int, noise: Noise = normal) -> Callable[[], str]:
        return lambda: "{:17.1%}{:15.1%}".format(*false_alarms(sets, n, noise))

    def losses(firsts: Sequence[int] = range(4, 9), *, n: int = 10, grows: bool) -> Callable[[], str]:
        return lambda: "{:17.1%}{:15.1%}{:11.1%}".format(*found_losses(sets, firsts, n=n, grows=grows))

    def pairs(lost: float) -> Callable[[], str]:
        return lambda: "{:17.1%}{:15.1%}".format(*(between_sets(sets, lost, same_session=one) for one in (True, False)))

    def trends(moved: float) -> Callable[[], str]:
        return lambda: f"{side_trends(sets, moved):17.1%}"

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
        f"{f'sets that lose {SHARE:.0%} of range at once':44}{'found':>17}{'within 1 rep':>15}{'in likely':>11}": {
            f"{n} reps, from rep 3–{n - 1}": losses(range(3, n), n=n, grows=False) for n in (5, 6, 8, 12, 15)
        },
        f"{'two sets of 10 reps, any change claimed':44}{'one camera':>17}{'set up anew':>15}": {
            f"range lower by {lost:.0f}°" if lost else "nothing changed": pairs(lost) for lost in (0.0, 4.0, 9.0, 18.0)
        },
        f"{'one set of 8 reps in each of four sessions':44}{'trend claimed':>17}": {
            f"left against right moves by {moved:.0f}°" if moved else "left against right stays": trends(moved)
            for moved in (0.0, 4.0, 6.0, 8.0)
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


def find_first_rep(faults: Sequence[Mapping[str, Any]], reps: int) -> int | None:
    """The rep from which a planted fault goes on to the last; None where there is no such fault."""
    for fault in faults:
        first = min(fault["reps"])
        if first > 1 and list(fault["reps"]) == list(range(first, reps + 1)):
            return int(first)
    return None


def name_breakdown(one: RenderedSet) -> tuple[str, str, int | None, Breakdown | None]:
    """Set, planted fault, the rep from which it goes on to the last, breakdown named."""
    faults = one.document["faults"]
    found = find_breakdown(find_form_changes(analyse(one.recording, one.exercise).review))
    return one.name, faults[0]["kind"] if faults else "none", find_first_rep(faults, len(one.planned)), found


def rendered(*, show: bool) -> None:
    """Print, for rendered sets with a fault from one rep to the last, how near the rep named is to it."""
    table: dict[str, Counter[str]] = defaultdict(Counter)
    alarms = Counter[bool]()
    for name, kind, first, found in map_sets(name_breakdown, "tuning"):
        if first is None and kind == "none":
            alarms[found is not None] += 1
        elif first is not None:
            near = found is not None and abs(found.rep - first) <= 1
            table[kind]["sets"] += 1
            table[kind]["named" if found else "missed"] += 1
            table[kind]["near"] += near
        if show and (first or found):
            likely = "" if found is None else f"{min(found.likely)}–{max(found.likely)} {found.first[0].aspect}"
            print(f"{name:36}{kind:20}{first or '-':>4}{found.rep if found else '-':>4}  {likely}")
    print(f"\n{'rendered sets with a fault from a rep on':44}{'sets':>6}{'named':>7}{'within 1 rep':>14}")
    for kind, counts in [*sorted(table.items()), ("all", sum(table.values(), Counter()))]:
        print(f"{kind:44}{counts['sets']:6}{counts['named']:7}{counts['near']:14}")
    print(f"rendered sets without a fault: a breakdown named in {alarms[True]} of {alarms.total()}")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sets", type=int, default=2000, help="simulated sets a line (default 2000; 0: none)")
    parser.add_argument("--no-rendered", action="store_true", help="simulated sets alone")
    parser.add_argument("--list", action="store_true", help="a line for each rendered set with a fault or a breakdown")
    labels = [label for rows in rows_of(0).values() for label in rows]
    parser.add_argument("--only", action="append", metavar="ROW", choices=labels, help="one row of simulated sets")
    arguments = parser.parse_args()
    if arguments.sets:
        simulated(arguments.sets, arguments.only or ())
    if not arguments.no_rendered:
        rendered(show=arguments.list)


if __name__ == "__main__":
    main()
