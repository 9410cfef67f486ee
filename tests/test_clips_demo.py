"""The demonstration clips and their truth files agree with each other, and the truth with itself."""

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from formcheck.pose.tracking import TRACKER_VERSION

FOLDER = Path(__file__).parent.parent / "clips_demo"
RECORDINGS = FOLDER.parent / "tools" / "benchmarks" / "recordings" / "shipped"
CLIPS = sorted(path.stem for path in FOLDER.glob("*.mp4"))
SIDES = ("left", "right")
# The identifiers the four exercises have in formcheck.
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


@cache
def truth_of(name: str) -> dict[str, Any]:
    return json.loads((FOLDER / f"{name}.truth.json").read_text())  # type: ignore[no-any-return]


def column(name: str, key: str) -> NDArray[np.float64]:
    return np.asarray(truth_of(name)["frames"][key], dtype=float)


def during(name: str, rep: dict[str, Any]) -> NDArray[np.bool_]:
    t = column(name, "t")
    return np.asarray((t >= rep["start"]) & (t <= rep["end"]))


@cache
def pictures(name: str) -> tuple[str, int, int, tuple[float, ...], bool]:
    """Codec, width, height, presentation times, and whether any picture is flat (one single colour)."""
    times, flat = [], False
    with av.open(str(FOLDER / f"{name}.mp4")) as clip:
        stream = clip.streams.video[0]
        for frame in clip.decode(stream):
            assert frame.pts is not None
            assert frame.time_base is not None
            times.append(float(frame.pts * frame.time_base))
            if len(times) % 50 == 1:
                flat |= float(frame.to_ndarray(format="gray").std()) < 5
        return stream.codec_context.name, stream.width, stream.height, tuple(times), flat


def test_there_are_enough_clips_of_every_exercise() -> None:
    assert len(CLIPS) >= 8
    assert {truth_of(name)["exercise"] for name in CLIPS} == EXERCISES


def test_clips_differ_in_shape_rate_view_and_faults() -> None:
    shapes = {pictures(name)[1:3] for name in CLIPS}
    assert (608, 1080) in shapes
    assert (1280, 720) in shapes
    assert {truth_of(name)["fps"] for name in CLIPS} >= {25, 30, 60}
    assert any(truth_of(name)["variable_rate"] for name in CLIPS)
    assert {truth_of(name)["view"] for name in CLIPS} >= {"front", "left", "right", "oblique"}
    assert {fault["kind"] for name in CLIPS for fault in truth_of(name)["faults"]} == FAULTS
    assert sum(not truth_of(name)["faults"] for name in CLIPS) >= 4


def test_no_truth_file_without_its_clip() -> None:
    assert sorted(path.name.removesuffix(".truth.json") for path in FOLDER.glob("*.truth.json")) == CLIPS


def test_readme_lists_every_clip_and_no_other() -> None:
    listed = re.findall(r"^\| `(\w+)\.mp4`", (FOLDER / "README.md").read_text(), flags=re.MULTILINE)
    assert sorted(listed) == CLIPS


@pytest.mark.parametrize("name", CLIPS)
def test_files_are_small(name: str) -> None:
    assert (FOLDER / f"{name}.mp4").stat().st_size < 800_000
    assert (FOLDER / f"{name}.truth.json").stat().st_size < 150_000


@pytest.mark.parametrize("name", CLIPS)
def test_clip_is_h264_with_one_truth_entry_a_frame(name: str) -> None:
    codec, width, height, times, flat = pictures(name)
    truth = truth_of(name)
    assert codec == "h264"
    assert (width, height) == (truth["camera"]["width"], truth["camera"]["height_px"])
    assert not flat
    assert {len(values) for values in truth["frames"].values()} == {len(times)}
    np.testing.assert_allclose(times, truth["frames"]["t"], atol=2e-5)
    gaps = np.diff(times)
    assert np.all(gaps > 0)
    if truth["variable_rate"]:
        assert gaps.max() > 1.5 * gaps.min()
    else:
        np.testing.assert_allclose(gaps, 1 / truth["fps"], atol=3e-5)


@pytest.mark.parametrize("name", CLIPS)
def test_reps_follow_each_other_inside_the_clip(name: str) -> None:
    t, reps = column(name, "t"), truth_of(name)["reps"]
    assert 5 <= len(reps) <= 8
    moments = [rep[key] for rep in reps for key in ("start", "top_start", "top_end", "end")]
    assert np.all(np.diff(moments) > 0)
    assert t[0] + 0.5 < moments[0]
    assert moments[-1] < t[-1] - 0.5


@pytest.mark.parametrize("name", CLIPS)
def test_extremes_of_reps_are_those_of_the_frames(name: str) -> None:
    for rep in truth_of(name)["reps"]:
        frames = during(name, rep)
        for side in SIDES:
            for key in ("arm_elev", "arm_raise"):
                values = column(name, f"{side}_{key}")[frames]
                assert rep[f"{side}_{key}_peak"] == pytest.approx(values.max(), abs=0.005)
                assert rep[f"{side}_{key}_low"] == pytest.approx(values.min(), abs=0.005)
            values = column(name, f"{side}_elbow_flex")[frames]
            assert rep[f"{side}_elbow_flex_max"] == pytest.approx(values.max(), abs=0.005)
            assert rep[f"{side}_elbow_flex_min"] == pytest.approx(values.min(), abs=0.005)
        torso = column(name, "torso_incl")[frames]
        assert rep["torso_incl_min"] == pytest.approx(torso.min(), abs=0.005)
        assert rep["torso_incl_max"] == pytest.approx(torso.max(), abs=0.005)


@pytest.mark.parametrize("name", CLIPS)
def test_arms_are_up_while_the_rep_is_at_its_top(name: str) -> None:
    t = column(name, "t")
    for rep in truth_of(name)["reps"]:
        top = np.argmin(np.abs(t - (rep["top_start"] + rep["top_end"]) / 2))
        for side in SIDES:
            raised = column(name, f"{side}_arm_raise")
            low, peak = rep[f"{side}_arm_raise_low"], rep[f"{side}_arm_raise_peak"]
            assert raised[top] > low + 0.97 * (peak - low)


@pytest.mark.parametrize("name", CLIPS)
def test_angles_obey_geometry(name: str) -> None:
    """Angles between directions obey the triangle inequality on the sphere (Euclid's Elements XI.20)."""
    incl, lean = column(name, "torso_incl"), column(name, "torso_lean")
    assert np.all(np.abs(lean) <= incl + 0.02)
    for side in SIDES:
        elevation, raised = column(name, f"{side}_arm_elev"), column(name, f"{side}_arm_raise")
        assert np.all(np.abs(elevation - raised) <= incl + 0.02)
        assert np.all(elevation + raised >= incl - 0.02)
        assert np.all(column(name, f"{side}_elbow_flex") < 150)


@pytest.mark.parametrize("name", [name for name in CLIPS if truth_of(name)["exercise"].startswith("bent")])
def test_bending_over_leans_forwards(name: str) -> None:
    bent = column(name, "torso_incl") > 45
    assert bent.mean() > 0.5
    np.testing.assert_allclose(column(name, "torso_lean")[bent], column(name, "torso_incl")[bent], atol=1.0)


@pytest.mark.parametrize("name", CLIPS)
def test_complete_means_six_tenths_of_the_median_range(name: str) -> None:
    reps = truth_of(name)["reps"]
    ranges = np.mean([[rep[f"{s}_arm_raise_peak"] - rep[f"{s}_arm_raise_low"] for s in SIDES] for rep in reps], axis=1)
    assert [rep["complete"] for rep in reps] == list(ranges >= 0.6 * np.median(ranges))
    partial = {rep for fault in truth_of(name)["faults"] if fault["kind"] == "partial" for rep in fault["reps"]}
    assert partial == {number for number, rep in enumerate(reps, 1) if not rep["complete"]}


@pytest.mark.parametrize("name", CLIPS)
def test_faults_are_in_the_movement_and_in_no_other_rep(name: str) -> None:
    """Limits lie between what the set list asks for in clean and in faulty reps.

    The trunk axis moves a few degrees with the shoulder girdle when arms rise, so a still torso may show up to 7.
    """
    reps = truth_of(name)["reps"]
    with_fault = {fault["kind"]: set(fault["reps"]) for fault in truth_of(name)["faults"]}
    peaks = np.array([[rep[f"{side}_arm_raise_peak"] for side in SIDES] for rep in reps])
    seen: dict[str, list[bool]] = {
        "one_side_lower": list(np.abs(peaks[:, 0] - peaks[:, 1]) > 7),
        "range_lost": list(peaks.max(axis=1) < 0.92 * peaks.max(axis=1)[:3].mean()),
        "rushed_lowering": [rep["end"] - rep["top_end"] < 0.8 for rep in reps],
        "torso_rises": [
            rep["torso_incl_max"] - rep["torso_incl_min"] > 10 and rep["torso_incl_mean"] > 45 for rep in reps
        ],
        "swing": [
            float(np.ptp(column(name, "torso_lean")[during(name, rep)])) > 8 and rep["torso_incl_mean"] < 45
            for rep in reps
        ],
        "stops_at_shoulder_height": [
            truth_of(name)["exercise"] == "overhead-lateral-raise" and peak < 110 for peak in peaks.mean(axis=1)
        ],
    }
    for kind, found in seen.items():
        assert {number for number, yes in enumerate(found, 1) if yes} == with_fault.get(kind, set()), kind


@pytest.mark.parametrize("name", CLIPS)
def test_view_is_named_after_the_cameras_angle(name: str) -> None:
    yaw = truth_of(name)["camera"]["yaw"]
    nearest = {0: "front", 90: "left", -90: "right"}
    expected = next((view for angle, view in nearest.items() if abs(yaw - angle) <= 15), "oblique")
    assert truth_of(name)["view"] == expected


def test_shipped_clips_have_landmarks_of_todays_tracker() -> None:
    """Else `record.py` has to be run: what the pages show of these clips is made from them."""
    clips = {path.stem for path in FOLDER.glob("*.mp4")}
    stored = {path.stem: path for path in RECORDINGS.glob("*.npz")}
    assert set(stored) == clips
    for path in stored.values():
        with np.load(path, allow_pickle=False) as arrays:
            assert json.loads(arrays["meta"].tobytes().decode())["tracker"] == TRACKER_VERSION
    assert sum(path.stat().st_size for path in stored.values()) < 2.5e6
