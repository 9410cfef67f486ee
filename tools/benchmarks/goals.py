"""What the measuring is meant to reach, and what it reaches."""

from collections.abc import Callable, Sequence

import numpy as np

from baselines import KINDS
from comparing import BANDS, Outcome, Row
from coverage import alikeness, compatible

ANGLES: tuple[tuple[str, str, tuple[str, ...], float], ...] = (
    ("arm elevation at the peak, front 0-10", "arm_elevation_peak", BANDS[:1], 2.0),
    ("arm elevation at the peak, front 10-30", "arm_elevation_peak", BANDS[1:2], 3.0),
    ("arm elevation at the peak, front 30-45", "arm_elevation_peak", BANDS[2:3], 5.0),
    ("torso inclination, side", "torso_inclination_mean", ("side",), 2.0),
    ("elbow bend at the top, in plane, front 0-10", "elbow_flexion_min", BANDS[:1], 4.0),
    ("left-right difference", "arm_peak_difference", BANDS, 2.5),
)
"""What, which measure, seen from where, and the mean error to reach, degrees."""
PHASE_S = 0.05
COVERAGE = (0.92, 0.99)
MEANT = 0.95
FEWEST_FOR_COVERAGE = 20
"""A measure and camera angle with fewer values says too little of its coverage."""
OTHERS = frozenset({"second person still", "second person walking"})


def goal_lines(outcomes: Sequence[Outcome]) -> list[str]:
    """Each goal: what is wanted, what is reached in all sets and in those without a second person, the baselines."""
    alone = [one for one in outcomes if not one.conditions & OTHERS]
    lines = [f"{'goal':48}{'wanted':>10}{'reached':>9}{'alone':>8}{'image':>8}{'world':>8}"]

    def add(name: str, wanted: str, read: Callable[[Sequence[Outcome]], str], plain: Sequence[str] = ("", "")) -> None:
        cells = f"{name:48}{wanted:>10}{read(outcomes):>9}{read(alone):>8}{plain[0]:>8}{plain[1]:>8}"
        lines.append(cells.rstrip())

    add("sets with repetitions exactly right", ">= 98 %", _counted)
    add("reviews of no exercise with a repetition", "0", _false_reps)
    for name, measure, bands, limit in ANGLES:
        rows = [
            row for row in _rows(outcomes) if row.measure == measure and row.band in bands and row.error is not None
        ]
        add(name, f"<= {limit:g}°", _mean_of(measure, bands), [_plain(rows, index) for index in (0, 1)])
    add("phase durations at 30 frames/s, all cameras", f"<= {PHASE_S:g} s", _phases)
    add("planted faults found, where the camera can tell", ">= 95 %", _faults)
    add("false alarms in 10 clean sets", "<= 1", _alarms)
    add("truths inside the margin", "92-99 %", lambda sets: _percent([row.inside for row in _rows(sets)]))
    add("measures by camera with 92-99 % inside", "all", _covered)
    add("the same: compatible with 95 % (see below)", "all", _compatible)
    add(f"inside, pooled: groups with fewer than {FEWEST_FOR_COVERAGE}", "92-99 %", _few)
    return [
        *lines,
        "alone: sets without a second person in the picture; image, world: the plain readings. Compatible: the 95 %",
        "interval of the share inside, wide for few sets since the values of one set err alike, holds 95 %. Group: the",
        f"values of one measure and camera; below {FEWEST_FOR_COVERAGE} they are taken together. Found: the check a",
        "planted fault belongs to names at least half of the repetitions it was planted in.",
    ]


def _rows(outcomes: Sequence[Outcome]) -> list[Row]:
    return [row for one in outcomes for row in one.rows if row.error is not None]


def _percent(values: Sequence[bool | None]) -> str:
    known = [value for value in values if value is not None]
    return f"{np.mean(known):.0%}".replace("%", " %") if known else "-"


def _counted(outcomes: Sequence[Outcome]) -> str:
    return _percent([one.counted for one in outcomes if one.no_exercise is None])


def _false_reps(outcomes: Sequence[Outcome]) -> str:
    counts = [count for one in outcomes for count in one.false_reps.values()]
    return f"{sum(count > 0 for count in counts)}/{len(counts)}"


def _mean_of(measure: str, bands: Sequence[str]) -> Callable[[Sequence[Outcome]], str]:
    def read(outcomes: Sequence[Outcome]) -> str:
        chosen = [row for row in _rows(outcomes) if row.measure == measure and row.band in bands]
        errors = [abs(row.error) for row in chosen if row.error is not None]
        return f"{np.mean(errors):.1f}°" if errors else "-"

    return read


def _plain(rows: Sequence[Row], index: int) -> str:
    errors = [abs(error) for row in rows if (error := row.plain_errors[KINDS[index]]) is not None]
    return f"{np.mean(errors):.1f}°" if errors else "-"


def _phases(outcomes: Sequence[Outcome]) -> str:
    rows = [row for row in _rows(outcomes) if row.measure.endswith(("_time", "_pause")) and 26 < row.frame_rate <= 40]
    errors = [abs(row.error) for row in rows if row.error is not None]
    return f"{np.mean(errors):.3f} s" if errors else "-"


def _faults(outcomes: Sequence[Outcome]) -> str:
    return _percent([fault.found for one in outcomes for fault in one.planted if fault.visible])


def _alarms(outcomes: Sequence[Outcome]) -> str:
    clean = [one for one in outcomes if one.clean and one.no_exercise is None]
    alarms = sum(len({alarm.check for alarm in one.alarms}) for one in clean)
    return f"{10 * alarms / len(clean):.1f}" if clean else "-"


def _covered(outcomes: Sequence[Outcome]) -> str:
    """Groups of one measure and camera angle whose coverage is as wanted, of those with enough values."""
    groups = [[inside for values in group.values() for inside in values] for group in _groups(outcomes)]
    return f"{sum(COVERAGE[0] <= float(np.mean(inside)) <= COVERAGE[1] for inside in groups)}/{len(groups)}"


def _few(outcomes: Sequence[Outcome]) -> str:
    """Share inside of all values in the groups with too few for a coverage of their own."""
    return _percent([one for group in _all_groups(outcomes) if _size(group) < FEWEST_FOR_COVERAGE
                     for values in group.values() for one in values])  # fmt: skip


def _compatible(outcomes: Sequence[Outcome]) -> str:
    """Of the same groups, those in which 95 % could be the true coverage (`coverage`)."""
    groups = _groups(outcomes)
    alike = alikeness(groups)
    return f"{sum(compatible(group, alike, MEANT) for group in groups)}/{len(groups)}"


def _all_groups(outcomes: Sequence[Outcome]) -> list[dict[str, list[bool]]]:
    """Set → inside or not, for each measure and camera angle."""
    groups: dict[tuple[str, str], dict[str, list[bool]]] = {}
    for row in _rows(outcomes):
        if row.inside is not None:
            groups.setdefault((row.measure, row.band), {}).setdefault(row.clip, []).append(row.inside)
    return list(groups.values())


def _groups(outcomes: Sequence[Outcome]) -> list[dict[str, list[bool]]]:
    """Those of them with enough values."""
    return [group for group in _all_groups(outcomes) if _size(group) >= FEWEST_FOR_COVERAGE]


def _size(group: dict[str, list[bool]]) -> int:
    return sum(map(len, group.values()))
