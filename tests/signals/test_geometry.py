import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from formcheck.signals.geometry import (
    compute_angle_between,
    compute_angle_from_down,
    compute_angle_from_height,
    compute_lean,
    compute_projected_angle,
)


@given(angle=st.floats(0, 180), turn=st.floats(-180, 180), length=st.floats(0.01, 1000))
def test_angle_between_equals_the_rotation_that_made_it(angle: float, turn: float, length: float) -> None:
    """Against scipy.spatial.transform: rotating a vector about a perpendicular axis by an angle gives that angle."""
    start = Rotation.from_euler("zyx", [turn, turn / 2, turn / 3], degrees=True)
    first = start.apply([1.0, 0.0, 0.0])
    second = Rotation.from_rotvec(angle * start.apply([0.0, 0.0, 1.0]), degrees=True).apply(first) * length
    assert compute_angle_between(first, second) == pytest.approx(angle, abs=1e-6)


def test_angle_between_closed_forms() -> None:
    """3-4-5 triangle: atan(4/3) = 53.1301 degrees; right angle; opposite."""
    first = np.array([[3.0, 0.0], [1.0, 0.0], [1.0, 1.0]])
    second = np.array([[3.0, 4.0], [0.0, 2.0], [-2.0, -2.0]])
    np.testing.assert_allclose(compute_angle_between(first, second), [53.130102, 90.0, 180.0], atol=1e-6)


def test_angle_between_stays_exact_where_the_arc_cosine_does_not() -> None:
    tiny = 1e-9
    assert compute_angle_between(np.array([1.0, 0.0]), np.array([1.0, tiny])) == pytest.approx(
        np.degrees(tiny), rel=1e-6
    )


def test_a_zero_vector_and_nan_have_no_angle() -> None:
    assert np.isnan(compute_angle_between(np.zeros(2), np.array([1.0, 0.0])))
    assert np.isnan(compute_angle_between(np.array([np.nan, 1.0]), np.array([1.0, 0.0])))
    assert np.isnan(compute_lean(np.zeros(2)))


def test_lean_is_signed_to_the_image_right() -> None:
    vectors = np.array([[0.0, -1.0], [1.0, -1.0], [-1.0, -1.0], [1.0, 0.0]])
    np.testing.assert_allclose(compute_lean(vectors), [0.0, 45.0, -45.0, 90.0])
    np.testing.assert_allclose(
        compute_angle_from_down(np.array([[0.0, 5.0], [2.0, 0.0], [0.0, -1.0]])), [0.0, 90.0, 180.0]
    )


# Seen angle for a true planar angle under a camera turned by yaw: tan(seen) = tan(true)·cos(yaw).
# Source: closed form of parallel projection; values worked out by hand from it, to 0.01 degrees.
PROJECTED = {
    (10, 30): 29.62, (10, 45): 44.56, (10, 150): 150.38,
    (20, 30): 28.48, (20, 80): 79.37, (20, 120): 121.57,
    (30, 30): 26.57, (30, 60): 56.31, (30, 120): 123.69, (30, 150): 153.43,
    (45, 30): 22.21, (45, 60): 50.77, (45, 80): 76.00, (45, 120): 129.23,
}  # fmt: skip


@pytest.mark.parametrize(("case", "seen"), PROJECTED.items())
def test_projection_law(case: tuple[int, int], seen: float) -> None:
    yaw, true = case
    assert compute_projected_angle(true, yaw) == pytest.approx(seen, abs=0.006)


@pytest.mark.parametrize("yaw", [0, 15, 45, 80])
def test_projection_leaves_0_90_and_180_alone(yaw: float) -> None:
    np.testing.assert_allclose(
        compute_projected_angle(np.array([0.0, 90.0, 180.0]), yaw), [0.0, 90.0, 180.0], atol=1e-9
    )


@given(true=st.floats(0.5, 179.5), yaw=st.floats(0, 80))
def test_projection_law_equals_projecting_a_rotated_segment(true: float, yaw: float) -> None:
    """Against scipy.spatial.transform: turn the segment about the vertical and drop its depth."""
    segment = np.array([np.sin(np.radians(true)), np.cos(np.radians(true)), 0.0])
    seen = Rotation.from_euler("y", yaw, degrees=True).apply(segment)[:2]
    assert compute_angle_from_down(seen) == pytest.approx(compute_projected_angle(true, yaw), abs=1e-6)


@given(true=st.floats(5, 175), yaw=st.floats(-90, 90))
def test_angle_from_height_does_not_depend_on_the_camera_yaw(true: float, yaw: float) -> None:
    segment = 2.0 * np.array([np.sin(np.radians(true)), np.cos(np.radians(true)), 0.0])
    seen = Rotation.from_euler("y", yaw, degrees=True).apply(segment)
    assert compute_angle_from_height(seen[1], 2.0) == pytest.approx(true, abs=1e-6)


def test_angle_from_height_is_clipped_when_the_picture_is_longer_than_the_arm() -> None:
    np.testing.assert_allclose(compute_angle_from_height(np.array([1.1, -1.1]), 1.0), [0.0, 180.0])
