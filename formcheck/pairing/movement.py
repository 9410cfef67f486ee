"""What two cameras see alike of one movement: curves of one clip to be laid over another's.

From any camera that stands upright, what goes up goes up. Which points show it best differs from camera to camera (an
arm may be hidden, only one may move, both may move in turn, or they may open level), so each clip gives several
curves, and it is left to the comparison which of them run alike.
"""

from dataclasses import dataclass

import numpy as np

from formcheck.core.model import SIDES, Array, LandmarkRecording
from formcheck.signals.filtering import differentiate, low_pass, make_uniform_grid, resample
from formcheck.signals.skeleton import get_index

RATE_HZ = 100.0
"""Both clips are brought to this rate; between two samples the offset is read from the parabola at the peak."""
CUTOFF_HZ = 4.0
"""The strokes of a lift lie below this; landmark noise, which differs from camera to camera, mostly above."""
MAX_GAP_S = 0.25
APART_S = 0.4
"""Strokes lie no nearer to one another than this."""
PARTS = ("shoulder", "elbow", "wrist", "hip", "knee")
FLOOR_PERCENTILE = 20.0
"""Sound quieter than in this share of the clip counts as the room's noise."""


@dataclass(frozen=True, slots=True)
class Kind:
    """How a curve may be compared."""

    name: str
    exact: bool = True
    """Every camera sees the very same quantity; not so for what each view reads or shows in a way of its own."""
    signed: bool = True
    """Both clips show it with the same sign."""
    least: float = 0.55
    """It counts from this correlation on."""


SIDED = tuple(Kind(f"{part} {side}") for part in ("shoulder", "elbow", "wrist") for side in SIDES)
HEIGHTS = (*SIDED, Kind("hips"), Kind("whole body"))
MOVEMENT = (
    *HEIGHTS,
    Kind("hands in the picture", exact=False, signed=False),
    Kind("elbows in the picture", exact=False, signed=False),
    Kind("distance of the hands", exact=False),
    Kind("driver", exact=False),
)
LOUDNESS = (Kind("loudness", least=0.3),)


@dataclass(frozen=True, eq=False)
class SpeedCurves:
    """How fast several quantities of one clip change, on an even grid.

    Parameters
    ----------
    start : seconds of the clip at the first sample; samples follow at `RATE_HZ`.
    speeds : (m, c) any unit; NaN where unknown.
    kinds : of each of the c curves.
    """

    start: float
    speeds: Array
    kinds: tuple[Kind, ...] = MOVEMENT


def compute_movement(recording: LandmarkRecording, t: Array, driver: Array) -> SpeedCurves:
    """The curves `MOVEMENT` of a recording.

    Parameters
    ----------
    driver : (m,) the signal that makes the reps, at times t.
    """
    points = {part: [get_index(part, side) for side in SIDES] for part in PARTS}
    heights = {part: -recording.pixels[:, index, 1] for part, index in points.items()}
    sided = [heights[kind.name.split()[0]][:, SIDES.index(kind.name.split()[1])] for kind in SIDED]
    visible = np.array([np.median(recording.visibility[:, points[part]], axis=0) for part in PARTS])
    weight = visible**2 + 1e-9  # one a clip: one that changes from picture to picture would itself look like movement
    every = np.stack([heights[part] for part in PARTS], axis=1)
    body = ((every * weight).sum(axis=2) / weight.sum(axis=1)).mean(axis=1)
    apart = np.linalg.norm(np.diff(recording.world[:, points["wrist"]], axis=1)[:, 0], axis=1)
    values = np.column_stack([*sided, heights["hip"].mean(axis=1), body])
    grid = np.arange(float(recording.t[0]), float(recording.t[-1]), 1.0 / RATE_HZ)
    middle = recording.pixels[:, points["shoulder"]].mean(axis=1, keepdims=True)
    shown = [
        _find_main_movement(compute_speeds(recording.t, places.reshape(len(places), -1), grid))
        for places in (recording.pixels[:, points[part]] - middle for part in ("wrist", "elbow"))
    ]
    columns = [
        compute_speeds(recording.t, values, grid),
        *shown,
        compute_speeds(recording.t, apart[:, None], grid),
        compute_speeds(t, driver[:, None], grid),
    ]
    return SpeedCurves(float(grid[0]), np.concatenate(columns, axis=1))


def compute_loudness_rise(start_s: float, samples: Array, rate_hz: float) -> SpeedCurves:
    """How fast the level of a clip's sound rises, in decibels a sample of the grid; falling levels count as none.

    Parameters
    ----------
    start_s : time of the first sample in seconds of the clip.
    samples : (n,) mono, at least one window long.
    """
    window = round(rate_hz / RATE_HZ)
    blocks = samples[: len(samples) // window * window].reshape(-1, window)
    power = np.convolve((blocks**2).mean(axis=1), np.ones(3) / 3, mode="same")
    if not len(power):
        return SpeedCurves(start_s, np.zeros((0, 1)), LOUDNESS)
    floor = max(float(np.percentile(power, FLOOR_PERCENTILE)), 1e-10)
    level = 10.0 * np.log10(power + floor)
    rise = np.maximum(np.diff(level, prepend=level[0]), 0.0)
    smooth = np.convolve(rise, np.hanning(7) / 3, mode="same")
    return SpeedCurves(start_s + 0.5 * window / rate_hz, (smooth - smooth.mean())[:, None], LOUDNESS)


def find_strokes(speed: Array) -> Array:
    """Samples of a curve (m,) at which a stroke is fastest."""
    from scipy.signal import find_peaks

    energy = np.convolve(speed**2, np.hanning(21) / 10, mode="same")
    usual = float(np.percentile(energy, 98))
    return np.asarray(find_peaks(energy, prominence=0.15 * usual, distance=round(APART_S * RATE_HZ))[0])


def compute_speeds(t: Array, values: Array, grid: Array) -> Array:
    """Speeds of values (n, c) at times t (n,), low-passed, on a grid (m,)."""
    rate = (len(t) - 1) / float(t[-1] - t[0])
    own = make_uniform_grid(t, rate=rate)
    smooth = low_pass(resample(t, values, own, max_gap_s=MAX_GAP_S), rate, CUTOFF_HZ)
    return differentiate(resample(own, smooth, grid, max_gap_s=MAX_GAP_S), 1.0 / RATE_HZ)


# ---------------------------------------------------------------- inside


def _find_main_movement(speeds: Array) -> Array:
    """(m, 1) speeds (m, c) along the direction in which most of the movement is (first principal component)."""
    known = np.where(np.isfinite(speeds), speeds, 0.0)
    return np.asarray(speeds @ np.linalg.eigh(known.T @ known)[1][:, -1:])
