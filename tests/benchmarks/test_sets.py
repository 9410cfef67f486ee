"""The benchmark's sets: the split is fixed, the specification seeded, and both parts cover what they should.

What is covered is read from the recordings that are kept, not from the list that made them.
"""

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import formcheck
from formcheck.pose.tracking import TRACKER_VERSION

FOLDER = Path(__file__).parent.parent.parent / "tools" / "benchmarks" / "recordings"
PARTS = ("tuning", "reporting")
EXERCISES = {"lateral-raise", "overhead-lateral-raise", "bent-over-lateral-raise", "guided-bar-press"}
FAULTS = {
    "range_lost",
    "torso_rises",
    "swing",
    "one_side_lower",
    "stops_at_shoulder_height",
    "partial",
    "rushed_lowering",
}
MEGABYTES = 22


@cache
def meta(part: str) -> dict[str, dict[str, Any]]:
    """Name of a set → what its truth file says of it."""
    out = {}
    for path in sorted((FOLDER / part).glob("*.truth.npz")):
        with np.load(path, allow_pickle=False) as arrays:
            out[path.name.removesuffix(".truth.npz")] = json.loads(arrays["meta"].tobytes().decode())
    return out


def spread(part: str, *keys: str) -> list[Any]:
    values = []
    for document in meta(part).values():
        value: Any = document
        for key in keys:
            value = value[key]
        values.append(value)
    return values


def test_split_is_fixed_by_number_and_disjoint() -> None:
    """Sets 32 to 69 are for reporting: moving one, or adding an easy one, would make the reported table another."""
    numbers = {part: sorted(int(name.split("_")[1]) for name in meta(part)) for part in PARTS}
    assert numbers["reporting"] == list(range(32, 70))
    tuning = set(numbers["tuning"])
    assert tuning >= {*range(32), *range(100, 120)}
    assert not tuning & set(range(32, 100))


@pytest.mark.parametrize("part", PARTS)
def test_no_recording_without_truth_and_all_small(part: str) -> None:
    recordings = {path.name.removesuffix(".npz") for path in (FOLDER / part).glob("*.npz") if "truth" not in path.name}
    assert recordings == set(meta(part))
    benchmark = [path for path in FOLDER.rglob("*.npz") if path.parent.name not in ("newer", "shipped")]
    assert sum(path.stat().st_size for path in benchmark) < MEGABYTES * 1e6


@pytest.mark.parametrize("part", PARTS)
def test_bodies_and_clothes_cover_the_range(part: str) -> None:
    bodies = spread(part, "spec", "body")
    assert {body["gender"] for body in bodies} == {0.0, 1.0}
    weights, ages = ([body[key] for body in bodies] for key in ("weight", "age"))
    assert min(weights) < 0.35
    assert max(weights) > 0.8
    assert min(ages) < 0.55
    assert max(ages) > 0.9
    assert 5 <= sum("girdle" in body for body in bodies) <= len(bodies) / 2
    skins = [np.mean(look["skin"]) for look in spread(part, "spec", "look")]
    assert min(skins) < 0.3
    assert max(skins) > 0.75
    ease = [look["shirt_ease"] for look in spread(part, "spec", "look")]
    assert min(ease) < 0.008
    assert max(ease) > 0.014
    assert any(look["stripes"] for look in spread(part, "spec", "look"))


@pytest.mark.parametrize("part", PARTS)
def test_cameras_cover_the_range(part: str) -> None:
    cameras = spread(part, "camera")
    yaws = np.array([camera["yaw"] for camera in cameras])
    for low, high in ((0, 10), (10, 30), (30, 45)):
        band = yaws[(np.abs(yaws) >= low) & (np.abs(yaws) <= high)]
        assert band.min() < 0 < band.max(), (low, high)
    assert (np.abs(yaws - 90) < 15).any()
    assert (np.abs(yaws + 90) < 15).any()
    assert (np.abs(yaws) > 160).sum() >= 3
    heights, distances, rolls = (
        np.array([camera[key] for camera in cameras]) for key in ("height", "distance", "roll")
    )
    assert heights.min() < 0.7
    assert heights.max() > 1.6
    assert distances.min() < 3.0
    assert distances.max() > 5.5
    assert rolls.min() < -1
    assert rolls.max() > 1
    assert np.abs(rolls).max() <= 3
    lines = {min(camera["width"], camera["height_px"]) for camera in cameras}
    assert {480, 720, 1080} <= lines


@pytest.mark.parametrize("part", PARTS)
def test_rates_pictures_and_company_cover_the_range(part: str) -> None:
    assert set(spread(part, "fps")) == {24, 25, 30, 50, 60}
    assert any(spread(part, "variable_rate"))
    spoils = spread(part, "trouble", "spoil")
    assert any(spoil["exposure"] > 0.5 for spoil in spoils)
    assert any(spoil["noise"] > 5 and spoil["light"] == 1 for spoil in spoils)
    assert any(spoil["light"] < 0.5 for spoil in spoils)
    assert any(spoil["crf"] > 35 for spoil in spoils)
    assert set(spread(part, "trouble", "person")) == {"none", "still", "walking"}
    assert any(spread(part, "trouble", "mirror"))
    assert len(set(spread(part, "trouble", "before"))) >= 3


@pytest.mark.parametrize("part", PARTS)
def test_exercises_faults_tempos_and_clips_without_the_exercise(part: str) -> None:
    documents = [one for one in meta(part).values() if one["no_exercise"] is None]
    assert {one["exercise"] for one in documents} == EXERCISES
    assert {fault["kind"] for one in documents for fault in one["faults"]} == FAULTS
    assert sum(not one["faults"] for one in documents) >= 10
    assert len([kind for kind in spread(part, "no_exercise") if kind]) >= 2
    strokes = [rep["top_start"] - rep["start"] for one in documents for rep in one["reps"]]
    assert min(strokes) < 0.75
    assert max(strokes) > 2.2
    partial = {one["name"]: one for one in ({"name": name, **doc} for name, doc in meta(part).items())}
    for name, one in partial.items():
        planted = {rep for fault in one["faults"] if fault["kind"] == "partial" for rep in fault["reps"]}
        assert planted == {number for number, rep in enumerate(one["reps"], 1) if not rep["complete"]}, name


def test_all_kinds_of_clips_without_the_exercise_are_there() -> None:
    kinds = {kind for part in PARTS for kind in spread(part, "no_exercise")}
    assert kinds >= {None, "walking", "drinking", "adjusting"}


@pytest.mark.parametrize("part", PARTS)
def test_packed_truth_is_what_the_renderer_measured(part: str) -> None:
    """The extremes of each repetition were written by the renderer, from the curves before they were packed."""
    from cases import FOLDERS, OLD_NAMES, load_cases

    case = next(one for one in load_cases(FOLDERS[OLD_NAMES.get(part, part)]) if one.planned)
    reps = meta(part)[case.name]["reps"]
    for (start, end), rep in zip(case.planned, reps, strict=True):
        during = (case.t >= start) & (case.t <= end)
        for side in ("left", "right"):
            assert case.truth[f"{side}_arm_raise"][during].max() == pytest.approx(
                rep[f"{side}_arm_raise_peak"], abs=0.011
            )
            assert case.truth[f"{side}_elbow_flex"][during].min() == pytest.approx(
                rep[f"{side}_elbow_flex_min"], abs=0.011
            )
    hips = (case.joints["left_hip"] + case.joints["right_hip"]) / 2
    shoulders = (case.joints["left_shoulder"] + case.joints["right_shoulder"]) / 2
    trunk = shoulders - hips
    lean = np.degrees(np.arccos(trunk[:, 2] / np.linalg.norm(trunk, axis=1)))
    np.testing.assert_allclose(lean, case.truth["torso_incl"], atol=0.25)  # joints are kept to a millimetre
    assert len(case.t) == len(case.recording.t)
    np.testing.assert_allclose(case.t, case.recording.t, atol=1e-4)


@pytest.mark.parametrize("part", PARTS)
def test_every_planned_repetition_is_one_by_the_exercises_own_smallest_range(part: str) -> None:
    from cases import FOLDERS, OLD_NAMES, load_cases
    from formcheck.exercises.registry import get_exercise

    for case in load_cases(FOLDERS[OLD_NAMES.get(part, part)]):
        smallest = get_exercise(case.exercise).driver.minimum_range
        arms = (case.truth["left_arm_raise"] + case.truth["right_arm_raise"]) / 2
        for start, end in case.planned:
            assert np.ptp(arms[(case.t >= start) & (case.t <= end)]) > smallest, case.name


# ---------------------------------------------------------------- the newer exercises, which are in no part


def test_every_newer_exercise_has_a_clean_and_a_faulty_recording() -> None:
    from cases import FOLDERS

    assert FOLDER / "newer" not in FOLDERS.values()
    kept = meta("newer").values()
    newer = set(formcheck.list_exercises()) - EXERCISES
    assert {one["exercise"] for one in kept if not one["faults"]} == newer
    assert {one["exercise"] for one in kept if one["faults"]} == newer
    recordings = {path.name for path in (FOLDER / "newer").iterdir()}
    assert recordings == {f"{name}{end}" for name in meta("newer") for end in (".npz", ".truth.npz")}
    assert sum(path.stat().st_size for path in (FOLDER / "newer").iterdir()) < 2.5e6


@pytest.mark.parametrize("name", [name for name in meta("newer") if name.endswith("_clean")])
def test_reps_of_newer_recordings_are_those_rendered(name: str) -> None:
    said = meta("newer")[name]
    reps = formcheck.analyse(formcheck.read_landmarks(FOLDER / "newer" / f"{name}.npz"), said["exercise"]).review.reps
    middles = [(rep.start_s + rep.end_s) / 2 for rep in reps if rep.complete]
    assert len(middles) == len(said["reps"]) == 3
    for middle, rep in zip(middles, said["reps"], strict=True):
        assert rep["start"] < middle < rep["end"]


def test_shipped_clips_have_landmarks_of_todays_tracker() -> None:
    """Else `record.py --shipped` has to be run: what the pages show of these clips is made from them."""
    clips = {path.stem for path in (FOLDER.parents[2] / "clips_demo").glob("*.mp4")}
    stored = {path.stem: path for path in (FOLDER / "shipped").glob("*.npz")}
    assert set(stored) == clips
    for path in stored.values():
        with np.load(path, allow_pickle=False) as arrays:
            assert json.loads(arrays["meta"].tobytes().decode())["tracker"] == TRACKER_VERSION
    assert sum(path.stat().st_size for path in stored.values()) < 2.5e6
