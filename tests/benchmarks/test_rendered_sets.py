"""The rendered sets that are committed: whole, small, and of all the kinds they should be.

What is covered is read from the truth that is packed, not from the list that made it.
"""

from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from formcheck.exercises.registry import load_exercises

FOLDER = Path(__file__).parent.parent.parent / "tools" / "benchmarks" / "recordings" / "sets"
MEGABYTES = 60
PLACES = {"near", "mid", "half", "side", "behind", "back"}
YAWS = {"near": (0, 10), "mid": (10, 30), "half": (30, 60), "side": (80, 100), "behind": (125, 150), "back": (160, 180)}
BUILDS = {"usual", "joints-elsewhere", "other-proportions", "strong-girdle"}
A_COACHS = {
    "falls_short": 8.0,
    "one_side_lower": 10.0,
    "swings": 10.0,
    "torso_drifts_up": 8.0,
}
"""Degrees beyond the limit that a coach names, at least as large as planted (common practice)."""


@cache
def documents(part: str = "tuning") -> dict[str, dict[str, Any]]:
    """Name of a set → what it was made from."""
    from packed_sets import unpack_truth

    return {
        path.name.removesuffix(".truth.npz.xz"): unpack_truth(path).document
        for path in sorted((FOLDER / part).glob("*.truth.npz.xz"))
    }


def test_every_set_has_its_landmarks_and_all_of_them_are_small() -> None:
    truths = {path.name.removesuffix(".truth.npz.xz") for path in FOLDER.rglob("*.truth.npz.xz")}
    landmarks = {path.name.removesuffix(".npz.xz") for path in FOLDER.rglob("*.npz.xz")}
    assert truths <= landmarks
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) < MEGABYTES * 1e6


def test_every_exercise_build_camera_and_number_of_sides_is_there() -> None:
    sets = documents().values()
    assert {one["exercise"] for one in sets} == {name for name in load_exercises() if "/" not in name}
    assert {one["build"] for one in sets} == BUILDS
    assert {one["place"] for one in sets} == PLACES
    assert {"both", "alternating"} <= {one["sides"] for one in sets}
    assert {one["body"]["gender"] for one in sets} == {0.0, 1.0}
    assert len({tuple(one["look"]["skin"]) for one in sets}) >= 6
    assert max(len(one["reps"]) for one in sets) == 15
    assert min(len(one["reps"]) for one in sets) == 5


def test_the_part_of_half_angles_holds_all_builds_from_both_sides() -> None:
    sets = documents("tuning-half").values()
    assert {one["place"] for one in sets} == {"half", "behind"}
    for exercise in {one["exercise"] for one in sets}:
        mine = [one for one in sets if one["exercise"] == exercise]
        assert {one["build"] for one in mine} == BUILDS
        assert {one["camera"]["yaw"] > 0 for one in mine} == {True, False}
        assert {bool(one["faults"]) for one in mine} == {True, False}
    for one in sets:
        low, high = YAWS[one["place"]]
        assert low <= abs(one["camera"]["yaw"]) <= high


def test_the_camera_stands_where_the_set_says() -> None:
    for name, one in documents().items():
        low, high = YAWS[one["place"]]
        assert low <= abs(one["camera"]["yaw"]) <= high, name


def test_faults_are_planted_in_two_sizes_and_no_smaller_than_a_coach_names() -> None:
    faults = [fault for one in documents().values() for fault in one["faults"]]
    sizes = Counter(fault["large"] for fault in faults)
    assert min(sizes[True], sizes[False]) > 0.3 * len(faults)
    for fault in faults:
        assert fault["size"] >= A_COACHS.get(fault["kind"], 0.0)
        if fault["kind"] == "fast_lowering":
            assert fault["size"] <= 0.52
    assert len({fault["kind"] for fault in faults}) >= 20


def test_the_planted_lowering_is_what_the_points_do() -> None:
    """The truth of a set agrees with its plan: hands of a raise fall in the time of its lowering."""
    from packed_sets import unpack_truth
    from true_curves import true_curves

    path = next(iter(sorted((FOLDER / "tuning").glob("*_lateral_raise.truth.npz.xz"))))
    truth = unpack_truth(path)
    raised = true_curves(truth)["left:arm_raise"]
    for rep in truth.document["reps"]:
        at_top = raised[(truth.t >= rep["top_start"]) & (truth.t <= rep["top_end"])]
        at_end = raised[np.argmin(np.abs(truth.t - rep["end"]))]
        assert at_top.min() - at_end > 0.9 * (at_top.max() - at_end) > 40.0


@pytest.mark.parametrize("part", ["reporting-1", "reporting-2"])
def test_a_reporting_part_shares_no_lifter_with_the_tuning_part(part: str) -> None:
    if not documents(part):
        pytest.skip("this part is not rendered yet")
    mine = {tuple(sorted(one["body"].items())) for one in documents(part).values()}
    assert not mine & {tuple(sorted(one["body"].items())) for one in documents().values()}
