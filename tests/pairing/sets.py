"""Invented sets whose reps differ as real ones do, filmed by two cameras with clocks of their own."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from formcheck.core.model import Array, LandmarkRecording
from tests import lifter, shelf

Pose = Callable[[Array], dict[str, Any]]


@dataclass(frozen=True)
class Plan:
    """Reps that differ: seconds up, held, down and waited each, and how far each goes (1 = all the way)."""

    up: tuple[float, ...] = (1.0, 1.15, 0.95, 1.2)
    held: tuple[float, ...] = (0.3, 0.4, 0.25, 0.5)
    down: tuple[float, ...] = (1.5, 1.3, 1.7, 1.6)
    waited: tuple[float, ...] = (0.4, 0.55, 0.3, 0.4)
    far: tuple[float, ...] = (1.0, 0.97, 1.0, 0.95)
    before: float = 1.5
    after: float = 1.2

    @property
    def length_s(self) -> float:
        return self.before + sum(map(sum, (self.up, self.held, self.down, self.waited))) + self.after

    def course(self, t: Array) -> Array:
        """0 at the stretched end, 1 at the shortened end, at times t."""
        out, now = np.zeros(t.shape), self.before
        for up, held, down, waited, far in zip(self.up, self.held, self.down, self.waited, self.far, strict=True):
            rising = lifter.minimum_jerk((t - now) / up)
            falling = lifter.minimum_jerk((t - now - up - held) / down)
            out += far * (rising - falling)
            now += up + held + down + waited
        return out


def lateral(c: Array, *, swing: float = 0.0) -> dict[str, Any]:
    arm = 8 + 82 * c
    return {"left": arm, "right": arm, "elbow": 12.0, "torso": 3 + swing * c}


def in_turn(c: Array) -> dict[str, Any]:
    """Raises of the left and the right arm in turn: `c` tells when, each arm moves in every other rep."""
    rep = np.cumsum(np.diff((c > 0.02).astype(int), prepend=0) > 0)
    return {"left": 8 + 82 * c * (rep % 2), "right": 8 + 82 * c * ((rep + 1) % 2), "elbow": 12.0, "torso": 3.0}


POSES: dict[str, Pose] = {**shelf.POSES, "lateral-raise": lateral}


def filmed(
    plan: Plan,
    pose: Pose,
    *,
    yaw: float,
    rate: float = 30.0,
    begins: float = 0.0,
    stops: float = 0.0,
    seed: int = 0,
    scale: float = 500.0,
) -> LandmarkRecording:
    """What a camera records that starts `begins` seconds after the set's clock and stops `stops` before its end."""
    t = lifter.times(plan.length_s - begins - stops, rate)
    return lifter.film(t, **pose(plan.course(t + begins)), yaw=yaw, noise_px=1.0, seed=seed, scale=scale)
