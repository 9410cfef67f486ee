"""How many pictures a second the pose model has to look at: the tracker itself run at 30, 15 and 10.

    python tools/benchmarks/rates.py            the tuning sets that were tracked at every rate
    python tools/benchmarks/rates.py --fast     fast strokes: how many chunks are tracked again, and what it brings

Prints for each rate what was lost, taken for the other side or for another person, how far the landmarks are from the
joints, the reps, phases, angles, planted faults and false alarms, and the truths inside the margin. Only tuning sets
are used. The rates' landmarks are packed by `tools/render/make_sets.py tuning --rates 15 10`; beside them stand those
of every picture without the pictures that formcheck does not track, which is how all other benchmarks read the sets.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from formcheck.core.model import Array
from formcheck.findings import judge_set
from formcheck.signals.skeleton import INDEX
from formcheck.video.chunks import TRACKED_PER_S
from packed_sets import choose_pictures, take_pictures, thin_recording
from rendered_sets import Rate, RenderedSet, Row, analyse_set, beyond_limits, compare, load_sets, picture_points

RATES: dict[str, Rate] = {"every picture": "all", "taken out": "product", "15": 15, "10": 10}
"""Heading of a column, and the rate: every picture of the clip (24 to 50 a second), those of them that formcheck
tracks, or the clip tracked with so many."""
PAIRS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
APART = 0.35
"""Only where the true points of both sides are so far apart in the picture, in trunk lengths, a swap can be told."""
FAST_S = 0.5
ANGLES = (
    *("arm_elevation_peak", "arm_raise_peak", "elbow_flexion_max", "torso_inclination_mean", "torso_inclination_range"),
    *("knee_flexion_max", "thigh_inclination_peak", "arm_flexion_peak", "arm_peak_difference"),
)


@dataclass
class Totals:
    """What was counted at one rate."""

    sets: int = 0
    right: int = 0
    pictures: int = 0
    lost: int = 0
    swapped: int = 0
    swappable: int = 0
    other_person: int = 0
    distances: list[float] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    fast: list[float] = field(default_factory=list)
    planted: int = 0
    found: int = 0
    alarms: int = 0
    clean: int = 0


def add_tracking(totals: Totals, one: RenderedSet) -> None:
    """Count lost pictures, swapped sides, another person, and the distance of landmarks from joints."""
    recording, truth = one.recording, one.truth
    t = recording.t
    points = np.stack(
        [np.stack([np.interp(t, truth.t, truth.points[:, i, axis]) for axis in range(3)], axis=-1)
         for i in range(len(truth.names))],
        axis=1,
    )  # fmt: skip
    seen = picture_points(one.document, points)
    at = {name: seen[:, i] for i, name in enumerate(truth.names)}
    middle = {part: (at[f"left_{part}"] + at[f"right_{part}"]) / 2 for part in ("shoulder", "hip")}
    trunk = float(np.median(np.linalg.norm(middle["shoulder"] - middle["hip"], axis=1)))
    trunk = max(trunk, 0.12 * float(one.document["camera"]["height_px"]))  # bent over towards the camera
    pixels = recording.pixels
    found = np.isfinite(pixels[:, 0, 0])
    totals.pictures += len(t)
    totals.lost += int((~found).sum())
    hips = (pixels[:, INDEX["left_hip"]] + pixels[:, INDEX["right_hip"]]) / 2
    totals.other_person += int((np.linalg.norm(hips - middle["hip"], axis=1)[found] > 0.8 * trunk).sum())
    own: list[Array] = []
    for part in PAIRS:
        left, right = (pixels[:, INDEX[f"{side}_{part}"]] for side in ("left", "right"))
        true_left, true_right = at[f"left_{part}"], at[f"right_{part}"]
        straight = np.linalg.norm(left - true_left, axis=1) + np.linalg.norm(right - true_right, axis=1)
        crossed = np.linalg.norm(left - true_right, axis=1) + np.linalg.norm(right - true_left, axis=1)
        can_tell = found & (np.linalg.norm(true_left - true_right, axis=1) > APART * trunk)
        totals.swappable += int(can_tell.sum())
        totals.swapped += int((crossed < straight)[can_tell].sum())
        own.append(straight[found] / 2 / trunk)
    totals.distances.append(float(np.median(np.concatenate(own))))


def add_review(totals: Totals, one: RenderedSet) -> None:
    """Count reps, and set every number beside its truth."""
    look = analyse_set(one)
    totals.sets += 1
    whole = sum(rep.complete for rep in look.reps)
    totals.right += len(look.reps) == len(one.planned) and whole == one.whole_reps
    rows = list(compare(one, look))
    totals.rows += rows
    for row in rows:
        if row.measure in ("eccentric_time", "concentric_time") and row.truth < FAST_S:
            totals.fast.append(abs(row.error))
    findings = judge_set(one.exercise, look.readings, look.reps, look.camera.name).findings
    named = {item.check for item in findings if item.verdict == "not_met"}
    _, truth = one.true_measures(look)
    worst = beyond_limits(one, truth)
    for check, excess in worst.items():
        if excess.usual >= 1.0:
            totals.planted += 1
            totals.found += check in named
    totals.clean += 1
    totals.alarms += any(check in worst and worst[check].most <= 0.0 for check in named)


def lines(columns: Sequence[Totals]) -> list[str]:
    """The table, a column a rate."""
    rows: list[tuple[str, list[str]]] = []

    def add(label: str, values: Sequence[str]) -> None:
        rows.append((label, list(values)))

    add("pictures a second", list(RATES))
    add("sets", [str(one.sets) for one in columns])
    add("reps exactly right", [f"{one.right}" for one in columns])
    add("pictures looked at", [f"{one.pictures}" for one in columns])
    add("lost", [f"{one.lost / one.pictures:.2%}" for one in columns])
    add("joints on the other side", [f"{one.swapped / max(one.swappable, 1):.2%}" for one in columns])
    add("pictures with another person", [f"{one.other_person / one.pictures:.2%}" for one in columns])
    add("landmark to joint, trunks", [f"{np.mean(one.distances):.3f}" for one in columns])
    for measure in ANGLES:
        errors = [[abs(row.error) for row in one.rows if row.measure == measure] for one in columns]
        if all(errors):
            add(f"{measure} (n {len(errors[0])})", [f"{np.mean(each):.2f}" for each in errors])
    phases = [[abs(r.error) for r in one.rows if r.measure.endswith(("_time", "_pause"))] for one in columns]
    add(f"phases, s (n {len(phases[0])})", [f"{np.mean(each):.3f}" for each in phases])
    add(
        f"strokes under {FAST_S} s, s (n {len(columns[0].fast)})",
        [f"{np.mean(one.fast or [np.nan]):.3f}" for one in columns],
    )
    add("true faults named", [f"{one.found} of {one.planted}" for one in columns])
    add("sets with a false alarm", [str(one.alarms) for one in columns])
    inside = [np.mean([abs(row.error) <= row.margin for row in one.rows]) for one in columns]
    add("truths inside the margin", [f"{share:.1%}" for share in inside])
    return [f"{label:44}" + "".join(f"{value:>16}" for value in values) for label, values in rows]


def fast_lines() -> list[str]:
    """How many chunks of the tuning sets are tracked again, and the errors of fast strokes with it and without."""
    chunks: list[bool] = []
    pictures = np.zeros(3, dtype=int)
    totals = {"every picture": Totals(), "15": Totals(), "15, fast chunks again": Totals()}
    fast_sets = named = others = 0
    for one in load_sets("tuning", "all"):
        taken, again = choose_pictures(one.recording)
        few = thin_recording(one.recording, TRACKED_PER_S)
        chunks += again
        pictures += len(taken), len(few.t), taken.sum()
        shortest = min((min(r["top_start"] - r["start"], r["end"] - r["top_end"]) for r in one.planned), default=np.inf)
        if shortest >= FAST_S:
            others += any(again)
            continue
        fast_sets, named = fast_sets + 1, named + any(again)
        for total, recording in zip(
            totals.values(), (one.recording, few, take_pictures(one.recording, taken)), strict=True
        ):
            add_review(total, replace(one, recording=recording))
    every, at_15, kept = (int(count) for count in pictures)
    lines = [
        f"chunks tracked again: {sum(chunks)} of {len(chunks)}",
        f"pictures: {every} in all, {at_15} at 15 a second, {kept} kept",
        f"sets with a planned stroke under {FAST_S} s that have such a chunk: {named} of {fast_sets}; others: {others}",
    ]
    for name, total in totals.items():
        errors = np.array(total.fast)
        lines.append(
            f"{name:24}{len(errors):4} strokes, mean error {errors.mean():.3f} s, largest {errors.max():.3f} s"
        )
    return lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fast", action="store_true", help="only what tracking fast strokes again brings")
    if parser.parse_args().fast:
        print("\n".join(fast_lines()))
        return
    names = {one.name for one in load_sets("tuning", 10)}
    columns = []
    for rate in RATES.values():
        totals = Totals()
        for one in load_sets("tuning", rate):
            if one.name in names and one.document["sides"] == "both":
                add_tracking(totals, one)
                add_review(totals, one)
        columns.append(totals)
    print("\n".join(lines(columns)))


if __name__ == "__main__":
    main()
