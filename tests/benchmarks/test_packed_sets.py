"""How rendered sets are packed, and how their true curves are read."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from formcheck.core.model import LandmarkRecording
from tests.lifter import film, times

NAMES = (
    *(
        f"{side}_{part}"
        for side in ("left", "right")
        for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ear", "grip", "palm")
    ),
    "head",
    "gaze",
)


if TYPE_CHECKING:
    from packed_sets import PackedTruth


@pytest.fixture
def filmed() -> LandmarkRecording:
    """Two seconds of an invented lifter."""
    t = times(2.0)
    return film(t, left=10.0 + 40.0 * t, right=10.0 + 40.0 * t)


def curves_of(truth: "PackedTruth") -> dict[str, Any]:
    from true_curves import true_curves

    return true_curves(truth)


def standing(raise_deg: float, lean_deg: float = 0.0, lower_right: float = 0.0) -> "PackedTruth":
    """A figure with straight arms raised to the sides, trunk leaning forwards from the hips; two equal moments.

    Axes: x to the lifter's left, y backwards, z up; metres.
    """
    from packed_sets import PackedTruth

    lean = np.radians(lean_deg)
    up = np.array([0.0, -np.sin(lean), np.cos(lean)])
    points: dict[str, np.ndarray] = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        arm = np.radians(raise_deg - (lower_right if side == "right" else 0.0))
        hip = np.array([sign * 0.1, 0.0, 0.9])
        shoulder = hip + [sign * 0.08, 0.0, 0.0] + 0.5 * up
        along = np.array([sign * np.sin(arm), 0.0, -np.cos(arm)])
        points |= {
            f"{side}_shoulder": shoulder,
            f"{side}_elbow": shoulder + 0.28 * along,
            f"{side}_wrist": shoulder + 0.53 * along,
            f"{side}_hip": hip,
            f"{side}_knee": hip - [0.0, 0.0, 0.42],
            f"{side}_ankle": hip - [0.0, 0.0, 0.82],
            f"{side}_ear": shoulder + 0.25 * up - [sign * 0.1, 0.0, 0.0],
            f"{side}_grip": shoulder + 0.6 * along,
            f"{side}_palm": shoulder + 0.6 * along + [0.0, -0.1, 0.0],
        }
    points["head"] = np.array([0.0, 0.0, 1.6])
    points["gaze"] = points["head"] + [0.0, -0.1, 0.0]
    moment = np.array([points[name] for name in NAMES])
    return PackedTruth({"exercise": "lateral-raise"}, np.array([0.0, 1 / 30]), NAMES, np.array([moment, moment]))


def test_a_figure_with_level_arms_reads_a_right_angle() -> None:
    curves = curves_of(standing(90.0))
    for name in ("left:arm_elevation", "right:arm_raise", "left:arm_line_elevation"):
        assert curves[name] == pytest.approx(90.0)
    assert curves["left:elbow_flexion"] == pytest.approx(0.0, abs=1e-5)
    assert curves[":torso_inclination"] == pytest.approx(0.0)
    assert curves["left:knee_flexion"] == pytest.approx(0.0, abs=1e-5)
    assert curves["left:palm_turn"] == pytest.approx(-1.0)  # palms forward: ahead is -y


def test_a_leaning_trunk_changes_elevation_but_not_raise() -> None:
    """Hanging arms of a trunk that leans forwards by 30 degrees are flexed by 30 against it."""
    curves = curves_of(standing(0.0, lean_deg=30.0))
    assert curves[":torso_inclination"] == pytest.approx(30.0)
    assert curves["left:arm_raise"] == pytest.approx(0.0, abs=1e-5)
    assert curves["left:arm_elevation"] == pytest.approx(30.0)
    assert curves["left:shoulder_flexion"] == pytest.approx(30.0)


def test_one_hand_lower_is_told_in_degrees_of_the_arm() -> None:
    """Arms of 0.53 m: sin(90 deg) - sin(80 deg) of it apart in height."""
    curves = curves_of(standing(90.0, lower_right=10.0))
    assert curves[":hand_height_difference"] == pytest.approx(np.degrees(np.arcsin(np.cos(np.radians(80.0)))))


def test_truth_comes_back_to_the_millimetre(tmp_path: Path) -> None:
    from packed_sets import PackedTruth, pack_truth, unpack_truth

    rng = np.random.default_rng(3)
    t = np.cumsum(rng.uniform(0.03, 0.04, 50))
    points = np.cumsum(rng.normal(0, 0.02, (50, len(NAMES), 3)), axis=0)
    truth = PackedTruth({"exercise": "squat", "reps": [1, 2]}, t, NAMES, points)
    pack_truth(truth, tmp_path / "one.truth.npz.xz")
    again = unpack_truth(tmp_path / "one.truth.npz.xz")
    assert again.document == truth.document
    assert again.names == NAMES
    assert np.abs(again.points - points).max() <= 0.0005 + 1e-9
    assert np.abs(again.t - t).max() <= 0.5e-5 + 1e-12


def test_landmarks_come_back_to_an_eighth_of_a_pixel(tmp_path: Path, filmed: LandmarkRecording) -> None:
    from packed_sets import pack_recording, unpack_recording

    recording = filmed
    pack_recording(recording, tmp_path / "one.npz.xz")
    again = unpack_recording(tmp_path / "one.npz.xz")
    assert again.clip == recording.clip
    assert again.t == pytest.approx(recording.t)
    assert np.nanmax(np.abs(again.pixels - recording.pixels)) <= 0.5 / 8 + 1e-9
    assert np.nanmax(np.abs(again.world - recording.world)) <= 0.5 / 256 + 1e-9
    assert (np.isnan(again.pixels) == np.isnan(recording.pixels)).all()


def test_a_landmark_that_jumps_too_far_is_refused(tmp_path: Path) -> None:
    from packed_sets import PackedTruth, pack_truth

    points = np.zeros((5, len(NAMES), 3))
    points[3] = 100.0
    with pytest.raises(ValueError, match="too far"):
        pack_truth(PackedTruth({}, np.arange(5.0), NAMES, points), tmp_path / "one.truth.npz.xz")


@pytest.mark.parametrize(("rate", "wanted", "count"), [(30, 15, 15), (30, 10, 10), (25, 10, 10), (50, 15, 15)])
def test_so_many_pictures_a_second_are_taken(filmed: LandmarkRecording, rate: int, wanted: int, count: int) -> None:
    from formcheck.video.chunks import take_at_rate
    from packed_sets import thin_recording

    t = np.arange(rate * 4) / rate
    taken = take_at_rate(t, wanted)
    assert taken[0]
    assert taken.sum() == pytest.approx(4 * count, abs=1)
    assert len(thin_recording(filmed, wanted).t) == take_at_rate(filmed.t, wanted).sum()


def test_a_point_before_the_camera_is_in_the_middle_of_the_picture() -> None:
    """A pinhole: what lies on the axis is in the middle, and a metre off at four metres is f / 4 beside it."""
    from rendered_sets import picture_points

    camera = {
        "yaw": 90.0,
        "distance": 4.0,
        "height": 1.0,
        "look": 1.0,
        "shift": 0.0,
        "roll": 0.0,
        "view": 60.0,
        "width": 400,
        "height_px": 600,
    }
    points = np.array([[[0.0, 0.0, 1.0], [0.0, 1.0, 1.0]]])
    seen = picture_points({"camera": camera}, points)
    assert seen[0, 0] == pytest.approx([200.0, 300.0])
    focal = 300.0 / np.tan(np.radians(30.0))
    assert seen[0, 1] == pytest.approx([200.0 + focal / 4, 300.0])


def test_the_pictures_that_formcheck_tracks_are_kept_of_a_set() -> None:
    from packed_sets import choose_pictures, thin_like_product
    from rendered_sets import load_sets

    slow, fast = 0, 0
    for one in load_sets("tuning", "all"):
        recording = one.recording
        taken, again = choose_pictures(recording)
        strokes = [min(rep["top_start"] - rep["start"], rep["end"] - rep["top_end"]) for rep in one.planned]
        if min(strokes) < 0.4:
            fast += 1
            assert any(again), one.name
        elif not any(again):
            slow += 1
            assert taken.sum() == pytest.approx(15 * recording.t[-1] + 1, rel=0.05)
        assert len(thin_like_product(recording).t) == taken.sum()
        if min(fast, slow) >= 2:
            return
    raise AssertionError("no such sets")
