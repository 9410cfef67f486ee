"""How far each number may be off."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np

from formcheck.model import CameraView, Quality
from formcheck.signals.camera import plane_of, yaw_off_plane
from formcheck.signals.geometry import projected_angle

TIME_MEASURES = frozenset({"eccentric_time", "bottom_pause", "concentric_time", "top_pause"})
_PROJECTED = frozenset({"arm_elevation_peak", "arm_elevation_low", "arm_raise_peak", "arm_raise_low"})


@cache
def _table() -> Mapping[str, Mapping[str, float]]:
    return tomllib.loads((Path(__file__).parent / "margins.toml").read_text(encoding="utf-8"))


def margin_for(measure: str, value: float, view: CameraView, quality: Quality) -> float | None:
    """Half-width of the 95 % interval of a value, in its unit; None when this view has no known margin.

    The tabled margin is widened by what the camera's yaw hides of an angle (projection law, `projected_angle`)
    and, for times, by one frame at each end (uniform rounding: 1.96·frame/√6).
    """
    base = _table().get(measure, {}).get(plane_of(view))
    if base is None:
        return None
    extra = 0.0
    if measure in _PROJECTED:
        extra = abs(float(projected_angle(value, yaw_off_plane(view))) - value)
    elif measure in TIME_MEASURES:
        extra = 1.96 / (6**0.5 * quality.frame_rate) if quality.frame_rate > 0 else 0.0
    return float(np.hypot(base, extra))
