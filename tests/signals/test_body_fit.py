"""The body fit against exact perspective pictures of a stick figure with known angles (closed forms, simulation)."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.model import SIDES, Array, LandmarkRecording, Settings
from formcheck.signals.body_fit import body
from formcheck.signals.body_fit.banded import Normal
from formcheck.signals.body_fit.body import JOINTS, LENGTHS, SEGMENTS, STATE, Pose
from formcheck.signals.body_fit.curves import Fitted, fit_curves
from formcheck.signals.body_fit.fit import FOCAL, PIXEL_SD, PROPORTIONS
from formcheck.signals.skeleton import INDEX
from tests import lifter

RATE = 15.0
EXACT = Settings(correct_landmarks=False, cutoff_hz=1e9)
LENGTHS_TRUE = np.array([PROPORTIONS[name][0] for name in LENGTHS]) * np.array([1.03, 0.95, 0.97, 1.04, 1.02, 0.98])
TRUNK_M, DISTANCE = 0.5, 7.0
"""The figure stands this many trunk lengths (3.5 m) from the camera."""


def turned(yaw: float) -> Array:
    """(3, 3) the lifter's left, up and ahead in the camera's axes (x right, y down, z away), camera at ``yaw``."""
    c, s = np.cos(np.radians(yaw)), np.sin(np.radians(yaw))
    return np.array([[c, 0.0, -s], [0.0, -1.0, 0.0], [-s, 0.0, -c]])


def figure(t: Array, *, yaw: float, lean: float = 0.0, elbow: float = 20.0, ahead: float = 15.0) -> tuple[Pose, Array]:
    """A figure raising both arms between 15° and 95° in a plane ``ahead`` of its frontal plane, and that angle (n,)."""
    raised = 55.0 - 40.0 * np.cos(2 * np.pi * t / 2.5)
    axes, n = turned(yaw), len(t)
    back = np.radians(lean)
    up = axes @ np.array([0.0, np.cos(back), np.sin(back)])
    trunk = np.stack([axes[:, 0], up, np.cross(axes[:, 0], up)], axis=1)
    directions = []
    for sign in (1.0, -1.0):
        out = axes @ np.array([sign * np.cos(np.radians(ahead)), 0.0, np.sin(np.radians(ahead))])
        down = axes @ np.array([0.0, -1.0, 0.0])
        for bent in (0.0, elbow):
            angle = np.radians(raised + bent)[:, None]
            directions.append(np.cos(angle) * down + np.sin(angle) * out)
    for _ in SIDES:
        for bent in (-5.0, 8.0):
            angle = np.radians(bent)
            directions.append(np.tile(axes @ np.array([0.0, -np.cos(angle), -np.sin(angle)]), (n, 1)))
    root = np.tile([0.1, 0.0, DISTANCE], (n, 1))
    pose = Pose(root, np.tile(trunk, (n, 1, 1)), np.zeros((n, 2, 2)), np.stack(directions, axis=1))
    return pose, raised


def film(pose: Pose, t: Array, *, noise: float = 0.0, seed: int = 0, world_noise: float = 0.0) -> LandmarkRecording:
    """A recording of a figure through an exact pinhole of the prior's focal length."""
    rng = np.random.default_rng(seed)
    points = body.compute_joints(pose, LENGTHS_TRUE)
    size = np.array([lifter.WIDTH, lifter.HEIGHT])
    focal = FOCAL[0] * size.max()
    seen = focal * points[:, :, :2] / points[:, :, 2:] + size / 2
    scale = focal / DISTANCE
    seen += rng.normal(0, noise * scale, seen.shape) if noise else 0.0
    world = (points - pose.root[:, None]) * TRUNK_M
    world = world + rng.normal(0, world_noise, world.shape) if world_noise else world
    pixels = np.tile(seen[:, :1], (1, 33, 1))
    space = np.tile(world[:, :1], (1, 33, 1))
    for place, name in enumerate(JOINTS):
        pixels[:, INDEX[name]], space[:, INDEX[name]] = seen[:, place], world[:, place]
    return lifter.recording(t, pixels, space)


def fitted(recording: LandmarkRecording, t: Array) -> Fitted:
    found = fit_curves(recording, t, RATE, EXACT)
    assert found is not None
    return found


T = np.arange(90) / RATE


@pytest.mark.parametrize("yaw", [0.0, 25.0, -40.0, 170.0])
def test_exact_pictures_give_the_true_angles(yaw: float) -> None:
    pose, raised = figure(T, yaw=yaw)
    found = fitted(film(pose, T), T)
    for side in SIDES:
        assert np.abs(found.series["arm_raise", side] - raised).mean() < 0.5
        assert np.abs(found.series["elbow_flexion", side] - 20.0).mean() < 0.7
    assert np.abs(found.series["torso_inclination", None]).max() < 0.5


def test_from_the_side_the_wish_for_usual_proportions_still_shows() -> None:
    pose, raised = figure(T, yaw=90.0)
    found = fitted(film(pose, T), T)
    assert np.abs(found.series["arm_raise", "left"] - raised).mean() < 1.5


def test_an_oblique_camera_no_longer_flattens_the_arm() -> None:
    # Closed form of what the picture shows at a distance: tan(seen) = tan(true)·cos(turn out of the picture's plane).
    pose, raised = figure(T, yaw=40.0, ahead=0.0)
    seen = np.degrees(np.arctan2(np.sin(np.radians(raised)) * np.cos(np.radians(40.0)), np.cos(np.radians(raised))))
    found = fitted(film(pose, T), T)
    for side in SIDES:
        error = np.abs(found.series["arm_raise", side] - raised)
        assert error.mean() < 0.3 * np.abs(seen - raised).mean()


def test_a_bent_trunk_is_measured_from_the_front() -> None:
    pose, _ = figure(T, yaw=0.0, lean=60.0)
    assert np.abs(fitted(film(pose, T), T).series["torso_inclination", None] - 60.0).max() < 3.0


def test_foreshortening_is_not_read_as_an_elbow_bend() -> None:
    pose, _ = figure(T, yaw=30.0, elbow=0.0, ahead=30.0)
    assert fitted(film(pose, T), T).series["elbow_flexion", "left"].max() < 5.0


def test_segments_keep_their_lengths() -> None:
    pose, _ = figure(T, yaw=20.0)
    found = fitted(film(pose, T, noise=0.03, seed=3), T).body
    points = body.compute_joints(found.pose, found.lengths)
    for first, second in (("left_shoulder", "left_elbow"), ("right_elbow", "right_wrist"), ("left_hip", "left_knee")):
        length = np.linalg.norm(points[:, JOINTS.index(first)] - points[:, JOINTS.index(second)], axis=1)
        assert np.ptp(length) < 1e-9


def test_stated_deviations_cover_the_errors_of_noisy_landmarks() -> None:
    inside = []
    for seed in range(6):
        pose, raised = figure(T, yaw=15.0)
        found = fitted(film(pose, T, noise=PIXEL_SD / 2, world_noise=0.02, seed=seed), T)
        for side in SIDES:
            error = np.abs(found.series["arm_raise", side] - raised)
            inside.append(np.mean(error < 1.96 * found.sd["arm_raise", side]))
    assert 0.9 <= np.mean(inside) <= 1.0
    assert np.median(found.sd["arm_raise", "left"]) < 15.0


def test_the_same_recording_gives_the_same_bits() -> None:
    pose, _ = figure(T, yaw=15.0)
    first, second = (fitted(film(pose, T, noise=0.02, seed=5), T) for _ in range(2))
    for key, values in first.series.items():
        assert np.array_equal(values, second.series[key])


@pytest.mark.parametrize("count", [2, 3, 7])
def test_a_few_moments_give_no_body(count: int) -> None:
    pose, _ = figure(T[:count], yaw=0.0)
    assert fit_curves(film(pose, T[:count]), T[:count], RATE, EXACT) is None


def test_missing_landmarks_and_people_give_a_body_or_none_but_never_an_error() -> None:
    pose, raised = figure(T, yaw=0.0)
    whole = film(pose, T)
    legs = np.array(whole.pixels)
    legs[:, [INDEX[name] for name in JOINTS if "knee" in name or "ankle" in name]] = np.nan
    found = fitted(lifter.recording(T, legs, whole.world), T)
    assert np.abs(found.series["arm_raise", "left"] - raised).mean() < 1.5
    gone = np.array(whole.pixels), np.array(whole.world)
    for values in gone:
        values[30:50] = np.nan
    assert np.isfinite(fitted(lifter.recording(T, *gone), T).series["arm_raise", "left"]).all()
    nobody = np.full(whole.pixels.shape, np.nan), np.full(whole.world.shape, np.nan)
    assert fit_curves(lifter.recording(T, *nobody), T, RATE, EXACT) is None
    one_place = np.zeros(whole.pixels.shape), np.zeros(whole.world.shape)
    assert fit_curves(lifter.recording(T, *one_place), T, RATE, EXACT) is None


def test_derivatives_of_joints_are_those_of_small_steps() -> None:
    pose, _ = figure(T[:4], yaw=25.0, lean=20.0)
    pose = replace(pose, girdle=np.full((4, 2, 2), 0.02))
    by_state, by_length = body.compute_joint_derivatives(pose, LENGTHS_TRUE)
    here, small = body.compute_joints(pose, LENGTHS_TRUE), 1e-6
    for number in range(STATE):
        step = np.zeros((4, STATE))
        step[:, number] = small
        change = (body.compute_joints(pose.moved(step), LENGTHS_TRUE) - here) / small
        np.testing.assert_allclose(by_state[..., number], change, atol=1e-5)
    for number in range(len(LENGTHS)):
        longer = LENGTHS_TRUE.copy()
        longer[number] *= np.exp(small)
        change = (body.compute_joints(pose, longer) - here) / small
        np.testing.assert_allclose(by_length[..., number], change, atol=1e-5)


@pytest.mark.parametrize("count", [3, 6, 9])
def test_banded_solution_and_covariances_are_those_of_the_whole_matrix(count: int) -> None:
    rng = np.random.default_rng(count)
    size, shared = 4, 3
    whole = np.zeros((count * size + shared, count * size + shared))
    for k in range(count - 2):
        rows = rng.normal(size=(20, whole.shape[0]))
        rows[:, : k * size] = rows[:, (k + 3) * size : count * size] = 0.0
        whole += rows.T @ rows
    blocks = [
        np.stack([whole[(k + m) * size : (k + m + 1) * size, k * size : (k + 1) * size] for k in range(count - m)])
        for m in (0, 1, 2)
    ]
    border = whole[: count * size, count * size :].reshape(count, size, shared)
    system = Normal((blocks[0], blocks[1], blocks[2]), border, whole[count * size :, count * size :])
    right = rng.normal(size=whole.shape[0])
    step, step_shared = system.solve(right[: count * size].reshape(count, size), right[count * size :])
    expected = np.linalg.solve(whole, right)
    np.testing.assert_allclose(np.concatenate([step.ravel(), step_shared]), expected, rtol=1e-6, atol=1e-9)
    moments, together = system.covariances()
    inverse = np.linalg.inv(whole)
    for k in range(count):
        np.testing.assert_allclose(moments[k], inverse[k * size : (k + 1) * size, k * size : (k + 1) * size], rtol=1e-5)
    np.testing.assert_allclose(together, inverse[count * size :, count * size :], rtol=1e-5)


def test_directions_stay_unit_vectors_and_the_trunk_a_rotation() -> None:
    pose, _ = figure(T[:5], yaw=10.0)
    moved = pose.moved(np.random.default_rng(1).normal(0, 0.4, (5, STATE)))
    np.testing.assert_allclose(np.linalg.norm(moved.directions, axis=2), 1.0, atol=1e-12)
    np.testing.assert_allclose(moved.trunk @ moved.trunk.transpose(0, 2, 1), np.tile(np.eye(3), (5, 1, 1)), atol=1e-12)
    assert moved.directions.shape == (5, len(SEGMENTS), 3)
