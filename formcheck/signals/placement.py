"""Whether a phone stands well for an exercise, judged from a short clip, and what to move."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from formcheck.core.model import SIDES, LandmarkRecording, Message, MessageValue, Settings, ViewName
from formcheck.exercises.schema import Exercise
from formcheck.signals.camera import VIEW_YAW_DEG, YAW_MARGIN_DEG, assess_quality, estimate_view
from formcheck.signals.geometry import wrap_degrees
from formcheck.signals.skeleton import BODY, INDEX

Topic = Literal["lifter", "direction", "distance", "picture edge", "light", "in sight", "pictures a second", "length"]
Standing = Literal["good", "change", "unsure"]

# Common practice, each tried on the shipped clips; the angles themselves are those the camera module works with.
FILLS: dict[str, tuple[float, float]] = {
    "standing": (0.35, 0.6),
    "seated": (0.3, 0.5),
    "bent-over": (0.22, 0.4),
    "prone": (0.22, 0.4),
}
"""Posture → share of the picture's side, nose to ankles, the lifter should fill at least, and best."""
FILLS_MOST = 0.92
EDGE = 0.02
"""A body point nearer to the edge than this share of the picture counts as at the edge."""
DARK, GLARE = 0.12, 0.42
"""Brightness (0..1, as displayed) below which a picture is dark; by which the surroundings may outshine the lifter."""
OFF_A_LITTLE_DEG = 12.0
"""Up to here a turned camera costs less than the margins already hold."""
SHORTEST_S = 2.5
"""A film of three seconds may end a little early."""
PICTURES_WANTED, PICTURES_LEAST = 28.0, 20.0


@dataclass(frozen=True, slots=True)
class Light:
    """How bright a clip is, 0 (black) to 1 (white) as displayed."""

    lifter: float
    around: float


@dataclass(frozen=True, slots=True)
class Hint:
    """What one look at the placement says of one topic; the words are in `formcheck.report.placement_text`."""

    topic: Topic
    standing: Standing
    message: Message


def judge_placement(
    recording: LandmarkRecording,
    exercise: Exercise,
    *,
    wanted: ViewName | Literal["side"],
    light: Light | None = None,
) -> tuple[Hint, ...]:
    """One piece of advice a topic; with nobody in the clip only that.

    Parameters
    ----------
    wanted : where the phone is meant to stand; ``side`` is either side.
    light : how bright the clip is, where that was measured.

    How high the phone stands and whether it is level cannot be told from landmarks and is not judged.
    """
    view = estimate_view(recording, "auto")
    quality = assess_quality(recording, view, Settings())
    if quality.tracked_share < 0.3:
        return (Hint("lifter", "change", Message("nobody-found")),)
    percent = {"percent": round(100 * quality.tracked_share)}
    found = Hint("lifter", "good", Message("lifter-found", percent))
    if quality.tracked_share < 0.9:
        found = Hint("lifter", "change", Message("lifter-lost", percent))
    side = _find_near_side(view.yaw_deg)
    advice = [
        found,
        _judge_direction(view.yaw_deg, wanted),
        _judge_distance(recording, exercise),
        _judge_edges(recording, exercise),
        _judge_visibility(quality.low_visibility, side),
        _judge_pace(recording.clip.frame_rate),
    ]
    if light is not None:
        advice.insert(4, _judge_light(light))
    if recording.clip.duration_s < SHORTEST_S:
        advice.append(Hint("length", "unsure", Message("short-clip", {"seconds": round(recording.clip.duration_s)})))
    return tuple(advice)


# ---------------------------------------------------------------- one topic each


def _judge_direction(yaw: float | None, wanted: ViewName | Literal["side"]) -> Hint:
    if yaw is None:
        return Hint("direction", "unsure", Message("direction-not-known"))
    if wanted == "oblique":
        return Hint("direction", "good", Message("any-direction"))
    target: ViewName = ("left" if yaw >= 0 else "right") if wanted == "side" else wanted
    off = wrap_degrees(yaw - VIEW_YAW_DEG[target])
    size = abs(off)
    parameters: dict[str, MessageValue] = {"place": target, "degrees": round(size), "margin": round(YAW_MARGIN_DEG)}
    if size <= OFF_A_LITTLE_DEG:
        return Hint("direction", "good", Message("straight-enough", parameters))
    # A positive yaw is a camera towards the lifter's left, so a positive error is undone by going to the right.
    side = "right" if off > 0 else "left"
    if size <= 25.0:
        return Hint("direction", "unsure", Message("beside-place", parameters | {"way": side}))
    return Hint("direction", "change", Message("off-place", parameters | {"way": side}))


def _judge_distance(recording: LandmarkRecording, exercise: Exercise) -> Hint:
    fills = _compute_filled_share(recording)
    least, best = FILLS[exercise.position]
    parameters: dict[str, MessageValue] = {"percent": round(100 * fills)}
    if fills < least:
        nearer = round(100 * (fills / best))
        return Hint("distance", "change", Message("too-small", parameters | {"distance_percent": nearer}))
    if fills > FILLS_MOST:
        return Hint("distance", "change", Message("too-close", parameters | {"times": round(fills / best, 1)}))
    return Hint("distance", "good", Message("distance-good", parameters))


def _judge_edges(recording: LandmarkRecording, exercise: Exercise) -> Hint:
    """Which edge the body touches or leaves the picture over, in more than a few pictures."""
    points = recording.pixels[:, [INDEX[name] for name in BODY]]
    positions = points / (recording.clip.width, recording.clip.height)
    seen = np.isfinite(positions[:, :, 0]).any(axis=1)
    positions = positions[seen]
    shares = {
        "left": (positions[:, :, 0] < EDGE).any(axis=1).mean(),
        "right": (positions[:, :, 0] > 1 - EDGE).any(axis=1).mean(),
        "top": (positions[:, :, 1] < EDGE).any(axis=1).mean(),
        "bottom": (positions[:, :, 1] > 1 - EDGE).any(axis=1).mean(),
    }
    cut = tuple(edge for edge, share in shares.items() if share > 0.05)
    if cut:
        return Hint("picture edge", "change", Message("leaves-picture", {"edges": cut}))
    room = float(np.min(positions[:, :, 1]))
    height = float(np.median(np.ptp(positions[:, :, 1], axis=1)))
    # A raised hand reaches over the head by about a quarter of the body's height (common practice).
    if exercise.filming.room_above and room < 0.05:
        return Hint("picture edge", "change", Message("no-room-above"))
    if exercise.filming.room_above and float(np.median(np.min(positions[:, :, 1], axis=1))) < 0.2 * height:
        return Hint("picture edge", "unsure", Message("little-room-above"))
    return Hint("picture edge", "good", Message("inside-picture"))


def _judge_light(light: Light) -> Hint:
    if max(light.lifter, light.around) < DARK:
        return Hint("light", "change", Message("dark"))
    if light.around - light.lifter > GLARE:
        return Hint("light", "unsure", Message("against-light"))
    return Hint("light", "good", Message("light-good"))


def _judge_visibility(hidden: Mapping[str, float], near: str | None) -> Hint:
    names = [
        name
        for name, share in hidden.items()
        if share > 0.35 and (near is None or name.startswith(near) or name == "nose")
    ]
    if not names:
        return Hint("in sight", "good", Message("joints-seen"))
    standing: Standing = "change" if len(names) > 2 else "unsure"
    return Hint("in sight", standing, Message("joints-hidden", {"points": tuple(names[:4])}))


def _judge_pace(rate: float) -> Hint:
    parameters = {"rate": round(rate)}
    if rate < PICTURES_LEAST:
        return Hint("pictures a second", "change", Message("too-few-pictures", parameters))
    if rate < PICTURES_WANTED:
        return Hint("pictures a second", "unsure", Message("few-pictures", parameters))
    return Hint("pictures a second", "good", Message("pictures-enough", parameters))


# ---------------------------------------------------------------- helpers


def _compute_filled_share(recording: LandmarkRecording) -> float:
    """Share of the picture the body reaches across in a typical picture, the larger of both directions."""
    points = recording.pixels[:, [INDEX[name] for name in BODY]]
    points = points[np.isfinite(points).all(axis=(1, 2))]
    size = np.array([recording.clip.width, recording.clip.height])
    return float((np.median(np.ptp(points, axis=1), axis=0) / size).max())


def _find_near_side(yaw: float | None) -> str | None:
    """The side of the body the camera sees from the side; None from front or back."""
    if yaw is None or not 40.0 < abs(yaw) < 140.0:
        return None
    return SIDES[0] if yaw > 0 else SIDES[1]
