"""The accuracy tables: made from outcomes, read back from the page they are kept on."""

import re
import subprocess
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from baselines import KINDS, Kind
from comparing import BANDS, Outcome, Planted, Row

HEADER = ("measure", "camera", "n", "given", "bias", "mean", "95 %", "inside", "image", "world")
WIDTHS = (26, 13, 5, 7, 8, 7, 7, 8, 7, 7)
LEGEND = (
    "n true values; given: share formcheck gives a number for; bias, mean error, 95th percentile and truths inside the "
    "margin\nof those; image, world: mean error of plain angles from picture and world points on the same repetitions "
    "(all of them\nwhere formcheck gives nothing)."
)
ANGLES_FOR_CONDITIONS = ("arm_elevation_peak", "arm_raise_peak", "torso_inclination_mean", "elbow_flexion_max")
MARK = "<!-- accuracy: {part} -->"
END = "<!-- accuracy end -->"


def summary(outcomes: Sequence[Outcome]) -> list[str]:
    """Repetitions, clips without the exercise, camera, phases, faults and alarms, in lines of text."""
    sets = [one for one in outcomes if one.no_exercise is None]
    idle = [one for one in outcomes if one.no_exercise is not None]
    right = sum(one.counted for one in sets)
    partial, told = (sum(one.partial[i] for one in sets) for i in (0, 1))
    wrongly = sum(one.wrongly_partial for one in sets)
    lines = [
        f"repetitions exactly right, whole and partial: {right} of {len(sets)} sets ({_share(right, len(sets))})",
        f"number of repetitions right: {sum(one.found == one.planned for one in sets)} of {len(sets)} sets",
        f"partial repetitions told apart: {told} of {partial}; whole ones called partial: {wrongly}",
    ]
    if idle:
        reviews = [count for one in idle for count in one.false_reps.values()]
        wrong = sum(count > 0 for count in reviews)
        lines.append(
            f"clips without the exercise: {len(idle)}, each reviewed as {len(reviews) // len(idle)} exercises; "
            f"repetitions found in {wrong} of {len(reviews)} reviews ({sum(reviews)} in all)"
        )
    turns = np.abs([one.yaw_error for one in sets if one.yaw_error is not None])
    if len(turns):
        lines.append(f"camera yaw: mean error {turns.mean():.1f}°, 95 % within {np.percentile(turns, 95):.1f}°")
    rows = [row for one in sets for row in one.rows]
    for label, slowest, fastest in (("24 or 25", 0, 26), ("30", 26, 40), ("50 or 60", 40, 999)):
        errors = [abs(row.error) for row in rows if _is_phase(row, slowest, fastest) and row.error is not None]
        if errors:
            said = f"mean error {np.mean(errors):.3f} s over {len(errors)}"
            lines.append(f"phase durations at {label} frames/s: {said}")
    known = [row.inside for row in rows if row.inside is not None]
    lines.append(f"truths inside the margin, all measures: {_share(sum(known), len(known))} of {len(known)}")
    return [*lines, "", *_fault_lines(sets)]


def _is_phase(row: Row, slowest: float, fastest: float) -> bool:
    return row.measure.endswith(("_time", "_pause")) and slowest < row.frame_rate <= fastest


def _fault_lines(sets: Sequence[Outcome]) -> list[str]:
    planted: dict[str, list[Planted]] = defaultdict(list)
    for one in sets:
        for fault in one.planted:
            planted[fault.kind].append(fault)
    everything = [fault for faults in planted.values() for fault in faults]
    lines = [
        f"{'planted fault':26}{'sets':>6}{'seen':>6}{'found':>7}{'undecided':>11}{'missed':>8}   repetitions found"
    ]
    for kind, faults in [*sorted(planted.items()), ("all", everything)]:
        seen = [fault for fault in faults if fault.visible]
        found = [fault for fault in seen if fault.found]
        undecided = [fault for fault in seen if not fault.found and "undecided" in fault.verdicts]
        verdicts = [verdict for fault in seen for verdict in fault.verdicts]
        lines.append(
            f"{kind:26}{len(faults):6}{len(seen):6}{len(found):7}{len(undecided):11}"
            f"{len(seen) - len(found) - len(undecided):8}   {verdicts.count('not_met')} of {len(verdicts)}"
        )
    clean = [one for one in sets if one.clean]
    wrong = [len({alarm.check for alarm in one.alarms}) for one in clean]
    others = sum(len({alarm.check for alarm in one.alarms}) for one in sets if not one.clean)
    rate = 10 * sum(wrong) / max(len(clean), 1)
    return [
        *lines,
        "seen: sets whose camera can decide the check; found: the check that belongs to the fault names at least half",
        "of the repetitions it was planted in; undecided: not found, and too close to call in some; missed: the rest.",
        f"False alarms: {sum(wrong)} in {len(clean)} clean sets ({rate:.1f} per 10), {others} in the others.",
    ]


def measure_table(outcomes: Sequence[Outcome]) -> list[str]:
    """One line for each measure and band of camera angles."""
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for one in outcomes:
        for row in one.rows:
            groups[row.measure, row.band].append(row)
    lines = [_line(HEADER)]
    for measure, band in sorted(groups, key=lambda key: (key[0], BANDS.index(key[1]))):
        lines.append(_line(measure_line(measure, band, groups[measure, band])))
    return lines


def measure_line(measure: str, band: str, rows: Sequence[Row]) -> tuple[str, ...]:
    """The entries of one line of the table."""
    given = [row for row in rows if row.error is not None]
    errors = np.array([row.error for row in given])
    digits = 1 if rows[0].unit.startswith("deg") else 2
    shown = [measure, band, str(len(rows)), _share(len(given), len(rows))]
    if len(given):
        size = np.abs(errors)
        inside = sum(bool(row.inside) for row in given)
        shown += [f"{value:.{digits}f}" for value in (errors.mean(), size.mean(), np.percentile(size, 95))]
        shown.append(_share(inside, len(given)))
    else:
        shown += ["-"] * 4
    return (*shown, *(_plain(given or rows, kind, digits) for kind in KINDS))


def _plain(rows: Sequence[Row], kind: Kind, digits: int) -> str:
    errors = [abs(error) for row in rows if (error := row.plain_errors[kind]) is not None]
    return f"{np.mean(errors):.{digits}f}" if errors else "-"


def _line(entries: Iterable[str]) -> str:
    cells = [
        f"{entry:<{width}}" if i < 2 else f"{entry:>{width}}"
        for i, (entry, width) in enumerate(zip(entries, WIDTHS, strict=True))
    ]
    return "".join(cells).rstrip()


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.0%}" if whole else "-"


def condition_table(outcomes: Sequence[Outcome]) -> list[str]:
    """Mean error of some angles, and truths inside the margin, with and without each condition."""
    rows = [row for one in outcomes for row in one.rows if row.error is not None]
    angles = [row for row in rows if row.measure in ANGLES_FOR_CONDITIONS]
    lines = [
        f"{'condition':30}{'sets':>5}{'angles with':>13}{'without':>9}{'inside with':>13}{'without':>9}{'reps off':>10}"
    ]
    for name in sorted({condition for one in outcomes for condition in one.conditions}):
        sets = [one for one in outcomes if name in one.conditions and one.no_exercise is None]
        cells = [
            read([row for row in chosen if (name in row.conditions) == there])
            for chosen, read in ((angles, _mean_error), (rows, _inside))
            for there in (True, False)
        ]
        wrong = sum(not one.counted for one in sets)
        lines.append(f"{name:30}{len(sets):5}{cells[0]:>13}{cells[1]:>9}{cells[2]:>13}{cells[3]:>9}{wrong:10}")
    return lines


def _mean_error(rows: Sequence[Row]) -> str:
    return f"{np.mean([abs(row.error) for row in rows if row.error is not None]):.1f}°" if rows else "-"


def _inside(rows: Sequence[Row]) -> str:
    return _share(sum(bool(row.inside) for row in rows), len(rows))


def worst_table(outcomes: Sequence[Outcome], count: int) -> list[str]:
    """The largest errors against their margins, with the clips they are in."""
    rows = [row for one in outcomes for row in one.rows if row.error is not None and row.margin]
    rows.sort(key=lambda row: -abs(row.error or 0.0) / (row.margin or 1.0))
    head = f"{'measure':26}{'truth':>8}{'error':>8}{'margin':>8}  clip"
    return [
        head,
        *(f"{row.measure:26}{row.truth:8.2f}{row.error:8.2f}{row.margin:8.2f}  {row.clip}" for row in rows[:count]),
    ]


# ---------------------------------------------------------------- the page


def parse(text: str) -> list[dict[str, str]]:
    """The lines of a measure table in a text, each as header → entry."""
    found: list[dict[str, str]] = []
    inside = False
    for line in text.splitlines():
        cells = re.split(r"\s{2,}", line.strip())
        if tuple(cells) == HEADER:
            inside = True
        elif inside and len(cells) == len(HEADER):
            found.append(dict(zip(HEADER, cells, strict=True)))
        else:
            inside = False
    return found


def section(page: str, part: str) -> str:
    """What stands between the marks of a part on the page; raises ValueError when they are not there."""
    begin, end = _span(page, part)
    return page[begin:end]


def written(page: str, part: str, text: str) -> str:
    """The page with the text of a part replaced."""
    begin, end = _span(page, part)
    return f"{page[:begin]}\n{text}\n{page[end:]}"


def _span(page: str, part: str) -> tuple[int, int]:
    mark = MARK.format(part=part)
    begin = page.find(mark)
    end = page.find(END, begin)
    if begin < 0 or end < 0:
        raise ValueError(f"the page has no section {mark}")
    return begin + len(mark), end


def printed_by() -> str:
    """Which commit prints a table now, as a sentence to stand below it; raises SystemExit outside a git checkout."""
    here = Path(__file__).resolve().parent
    asked = (
        ("rev-parse", "--short=9", "HEAD"),
        ("status", "--porcelain", "--untracked-files=no", "--", ":/*.py", ":/*.toml"),
    )
    answers = []
    for words in asked:
        done = subprocess.run(["git", *words], cwd=here, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit("A table carries the commit that printed it, and this is no git checkout.")
        answers.append(done.stdout.strip())
    commit, changed = answers
    return f"Printed by commit `{commit}`{' with changes of its own' if changed else ''}."


def write_section(path: Path, part: str, text: str) -> None:
    """Put a part's text on the page."""
    path.write_text(written(path.read_text(encoding="utf-8"), part, text), encoding="utf-8")
