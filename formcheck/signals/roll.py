"""A tilted phone: how far the picture is turned about its own centre, and the landmarks turned back.

Seen from the front, arms that hang tell it best, since a weight hangs plumb: the middle between both, where the hands
are lowest. Else a lifter who stands or sits upright and is seen from the front or behind holds the trunk plumb over a
set, to the left and right: what the trunk leans in the picture is then the camera's. The line of the hips has to
agree, for one who bends the trunk to the side keeps the hips level. Who stands on a slope or shifts the hips as well
cannot be told from a tilted phone; angles against the trunk itself do not depend on it.
"""

from dataclasses import dataclass, replace

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, LandmarkRecording, Message
from formcheck.signals.camera import compute_yaw_off_plane, get_plane
from formcheck.signals.geometry import compute_lean
from formcheck.signals.lengths import compute_full_arm_length, compute_full_trunk_length, find_middle, measure_drop
from formcheck.signals.skeleton import get_index

MOST_DEG = 8.0
"""A trunk that leans more than this in the picture does not lean by the phone alone."""
HIPS_AGREE_DEG = 3.0
UPRIGHT_TRUNK_PER_WIDTH = 1.15
"""Trunk over shoulder width in the picture above which the lifter is upright and not bent over."""
MARGIN_DEG = 1.0
"""95 % of the estimates of rendered sets seen straight on lie this near the truth."""
USUAL_LEAN_DEG = 3.0
"""A trunk counted as upright leans forwards by up to this; a turned camera sees part of it as a tilt."""
SITTING_LEAN_DEG = -5.3
"""Who sits to lift leans back by this much (rendered tuning sets; with each build of bodies kept out 4.7 to 5.6)."""
SITS_BELOW = 0.6
"""The knees of one who sits are less than so many trunk lengths below the hips."""
HANGING_SHARE = 30.0
"""Per cent of the pictures, those with the hands lowest, in which the arms are looked at."""
HANGS_WITHIN_DEG = 12.0
"""A hanging arm is this near the middle of both, and"""
HANGS_FROM = 0.9
"""the middle of both lines from shoulder to wrist this share of an arm's full length, or longer."""
HANDS_AHEAD_DEG = 5.8
"""The arms of one who stands hang this much ahead of plumb, before the thighs (rendered tuning sets); those of a
trunk bent forwards hang free."""
NOTED_FROM_DEG = 1.0
LIES_FROM_DEG = 60.0
"""Legs that stand, or the trunk of one who sits, are never so far off plumb over most of a set; a film that was turned
shows them at 90 degrees or upside down."""
PLUMB_PARTS = {"standing": ("hip", "ankle"), "bent-over": ("hip", "ankle"), "seated": ("shoulder", "hip")}
"""By position: the ends of what is about plumb in it, the upper one first."""


@dataclass(frozen=True, slots=True)
class Roll:
    """Turn of the picture, degrees; positive: plumb lines lean to the picture's right at their upper end."""

    deg: float
    margin_deg: float
    """Half-width of the 95 % interval."""


def estimate_roll(recording: LandmarkRecording, view: CameraView) -> Roll | None:
    """How far the picture is turned; None where this view or posture does not tell it."""
    if get_plane(view) != "frontal":
        return None
    shoulders, hips = (_measure_pair(recording.pixels, part) for part in ("shoulder", "hip"))
    seen = np.isfinite(shoulders[0] + shoulders[1] + hips[0] + hips[1]).all(axis=1)
    if not seen.any():
        return None
    trunk = (shoulders[0] + shoulders[1] - hips[0] - hips[1])[seen] / 2
    width = np.linalg.norm((shoulders[0] - shoulders[1])[seen], axis=1)
    upright = float(np.median(np.linalg.norm(trunk, axis=1))) > UPRIGHT_TRUNK_PER_WIDTH * float(np.median(width))
    turned = np.sin(np.radians(compute_yaw_off_plane(view)))
    hanging = _measure_hanging_arms(recording.pixels[seen]) if view.name == "front" else None
    to_left = np.sin(np.radians(view.yaw_deg or 0.0))
    if hanging is not None:
        leaning = hanging - HANDS_AHEAD_DEG * to_left if upright else hanging
        if abs(leaning) <= MOST_DEG:
            return Roll(float(leaning), float(np.linalg.norm([MARGIN_DEG, USUAL_LEAN_DEG * turned])))
    lean = float(np.median(compute_lean(trunk)))
    if upright and view.name == "front" and _sits(recording.pixels[seen]):
        lean += SITTING_LEAN_DEG * float(to_left)
    level = float(np.median(_measure_off_level((hips[0] - hips[1])[seen])))
    apart = abs(lean - level)
    if not upright or abs(lean) > MOST_DEG or apart > HIPS_AGREE_DEG:
        return None
    return Roll(lean, float(np.linalg.norm([MARGIN_DEG, USUAL_LEAN_DEG * turned, apart / 2])))


def level_recording(recording: LandmarkRecording, roll: Roll) -> LandmarkRecording:
    """The recording as a level camera in the same place would have seen it: turned back about the picture's centre."""
    centre = np.array([recording.clip.width, recording.clip.height]) / 2
    angle = np.radians(roll.deg)
    back = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    world = np.array(recording.world)
    world[..., :2] = world[..., :2] @ back.T
    return replace(recording, pixels=(recording.pixels - centre) @ back.T + centre, world=world)


def note_roll(roll: Roll) -> Message | None:
    """What a review says of a phone that is tilted by more than a degree."""
    if abs(roll.deg) <= NOTED_FROM_DEG:
        return None
    return Message("tilted", {"degrees": round(abs(roll.deg)), "margin": round(max(roll.margin_deg, 1.0))})


def note_turned(recording: LandmarkRecording, position: str) -> tuple[Message, ...]:
    """That the film was turned on its side or upside down, for an exercise done in this position."""
    if position not in PLUMB_PARTS:
        return ()
    upper, lower = (find_middle(recording.pixels, part) for part in PLUMB_PARTS[position])
    line = (lower - upper)[np.isfinite(lower - upper).all(axis=1)]
    if not len(line):
        return ()
    across, down = np.median(line, axis=0)
    off = float(np.degrees(np.arctan2(abs(across), down)))
    return (Message("turned", {"degrees": 90 if off < 135 else 180}),) if off > LIES_FROM_DEG else ()


def _measure_hanging_arms(pixels: Array) -> float | None:
    """Lean of the middle of both arms where the hands are lowest, degrees; None where the arms do not hang there."""
    lines = [pixels[:, get_index("wrist", side)] - pixels[:, get_index("shoulder", side)] for side in SIDES]
    middle = (lines[0] + lines[1]) / 2
    if not np.isfinite(middle).any():
        return None
    with np.errstate(invalid="ignore"):
        low = middle[:, 1] >= np.nanpercentile(middle[:, 1], 100.0 - HANGING_SHARE)
    leans = [float(np.median(compute_lean(-line[low]))) for line in (middle, *lines)]
    full = np.mean([compute_full_arm_length(pixels, side) for side in SIDES])
    apart = max(abs(leans[1] - leans[0]), abs(leans[2] - leans[0]))
    long_enough = float(np.median(np.linalg.norm(middle[low], axis=1))) >= HANGS_FROM * full
    return leans[0] if apart <= HANGS_WITHIN_DEG and long_enough else None


def _sits(pixels: Array) -> bool:
    return measure_drop(pixels, "hip", "knee") < SITS_BELOW * compute_full_trunk_length(pixels)


def _measure_pair(pixels: Array, part: str) -> tuple[Array, Array]:
    left, right = (pixels[:, get_index(part, side)] for side in SIDES)
    return left, right


def _measure_off_level(across: Array) -> Array:
    """Turn of lines (m, 2) from level, -90..90 degrees, whichever of the ends is the lifter's left."""
    return np.asarray((np.degrees(np.arctan2(across[:, 1], across[:, 0])) + 90.0) % 180.0 - 90.0)
