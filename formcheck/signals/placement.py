"""Whether a phone stands well for an exercise, judged from a short clip, and what to move."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from formcheck.core.model import SIDES, LandmarkRecording, Settings, ViewName
from formcheck.exercises.schema import Exercise
from formcheck.signals.camera import YAW_MARGIN_DEG, camera_view, quality_of
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
SHORTEST_S = 4.0
PICTURES_WANTED, PICTURES_LEAST = 28.0, 20.0
_CENTRES: dict[ViewName, float] = {"front": 0.0, "left": 90.0, "back": 180.0, "right": -90.0}
_PLACES = {"front": "in front of you", "left": "at your left side", "back": "behind you", "right": "at your right side"}


@dataclass(frozen=True, slots=True)
class Light:
    """How bright a clip is, 0 (black) to 1 (white) as displayed."""

    lifter: float
    around: float


@dataclass(frozen=True, slots=True)
class Hint:
    """What one look at the placement says."""

    topic: Topic
    standing: Standing
    text: str


def judge_placement(
    recording: LandmarkRecording,
    exercise: Exercise,
    *,
    wanted: ViewName | Literal["side"],
    light: Light | None = None,
    settings: Settings | None = None,
) -> tuple[Hint, ...]:
    """One piece of advice a topic, in plain sentences for the lifter; with nobody in the clip only that.

    Parameters
    ----------
    wanted : where the phone is meant to stand; ``side`` is either side.
    light : how bright the clip is, where that was measured.

    How high the phone stands and whether it is level cannot be told from landmarks and is not judged.
    """
    settings = settings or Settings()
    view = camera_view(recording, "auto")
    quality = quality_of(recording, view, settings)
    if quality.tracked_share < 0.3:
        return (
            Hint(
                "lifter",
                "change",
                "Nobody was found in most of the clip: stand where you lift, the whole body in the picture, in good "
                "light, and film again.",
            ),
        )
    found = Hint("lifter", "good", f"You were found in {quality.tracked_share:.0%} of the pictures.")
    if quality.tracked_share < 0.9:
        found = Hint(
            "lifter",
            "change",
            f"You were found in only {quality.tracked_share:.0%} of the pictures: clear what stands between you and "
            "the phone, keep others out of the picture, and add light.",
        )
    side = _near_side(view.yaw_deg)
    advice = [
        found,
        _direction(view.yaw_deg, wanted),
        _distance(recording, exercise),
        _edges(recording, exercise),
        _in_sight(quality.low_visibility, side),
        _pace(recording.clip.frame_rate),
    ]
    if light is not None:
        advice.insert(4, _light(light))
    if recording.clip.duration_s < SHORTEST_S:
        seconds = recording.clip.duration_s
        advice.append(
            Hint("length", "unsure", f"The clip lasts {seconds:.0f} s; ten seconds with two slow reps tell more.")
        )
    return tuple(advice)


def good_enough(advice: Sequence[Hint]) -> bool:
    """Nothing has to be changed."""
    return all(item.standing != "change" for item in advice)


# ---------------------------------------------------------------- one topic each


def _direction(yaw: float | None, wanted: ViewName | Literal["side"]) -> Hint:
    if yaw is None:
        return Hint("direction", "unsure", "From where the phone sees you could not be told.")
    if wanted == "oblique":
        return Hint("direction", "good", "Any angle between front and side will do here.")
    target: ViewName = ("left" if yaw >= 0 else "right") if wanted == "side" else wanted
    off = (yaw - _CENTRES[target] + 180.0) % 360.0 - 180.0
    place, size = _PLACES[target], abs(off)
    margin = f"± {YAW_MARGIN_DEG:.0f}°"
    if size <= OFF_A_LITTLE_DEG:
        return Hint("direction", "good", f"The phone stands {place}, {size:.0f}° {margin} off: straight enough.")
    # A positive yaw is a camera towards the lifter's left, so a positive error is undone by going to the right.
    way = "right" if off > 0 else "left"
    turn = f"carry the phone about {size:.0f}° around you to your {way}, or turn yourself as far to your {_other(way)}"
    if size <= 25.0:
        return Hint(
            "direction",
            "unsure",
            f"The phone stands {size:.0f}° {margin} beside the place wanted ({place}): usable, but the numbers are "
            f"less sure. Better: {turn}.",
        )
    return Hint("direction", "change", f"The phone should stand {place} but is {size:.0f}° {margin} off that: {turn}.")


def _distance(recording: LandmarkRecording, exercise: Exercise) -> Hint:
    fills = _filled(recording)
    least, best = FILLS[exercise.position]
    text = f"You fill {fills:.0%} of the picture"
    if fills < least:
        nearer = fills / best
        return Hint(
            "distance", "change", f"{text}: too small. Bring the phone to about {nearer:.0%} of its distance now."
        )
    if fills > FILLS_MOST:
        farther = fills / best
        return Hint("distance", "change", f"{text}: too close. Go about {farther:.1f} times as far away.")
    return Hint("distance", "good", f"{text}: a good distance.")


def _edges(recording: LandmarkRecording, exercise: Exercise) -> Hint:
    """Which edge the body touches or leaves the picture over, in more than a few pictures."""
    points = recording.pixels[:, [INDEX[name] for name in BODY]]
    places = points / (recording.clip.width, recording.clip.height)
    seen = np.isfinite(places[:, :, 0]).any(axis=1)
    places = places[seen]
    shares = {
        "left": (places[:, :, 0] < EDGE).any(axis=1).mean(),
        "right": (places[:, :, 0] > 1 - EDGE).any(axis=1).mean(),
        "top": (places[:, :, 1] < EDGE).any(axis=1).mean(),
        "bottom": (places[:, :, 1] > 1 - EDGE).any(axis=1).mean(),
    }
    cut = [edge for edge, share in shares.items() if share > 0.05]
    if cut:
        where = " and ".join(cut) if len(cut) < 3 else ", ".join(cut[:-1]) + " and " + cut[-1]
        turn = {"top": "tilt the phone up", "bottom": "tilt the phone down"}
        move = "take the phone farther away until everything is inside"
        if len(cut) == 1:
            move = f"{turn.get(cut[0], f'turn the phone to the {cut[0]}')} a little, or take it farther away"
        return Hint("picture edge", "change", f"Part of you leaves the picture at the {where}: {move}.")
    room = float(np.min(places[:, :, 1]))
    height = float(np.median(np.ptp(places[:, :, 1], axis=1)))
    # A raised hand reaches over the head by about a quarter of the body's height (common practice).
    if exercise.filming.room_above and room < 0.05:
        return Hint(
            "picture edge",
            "change",
            "There is no room above the highest point: tilt the phone up or take it farther away.",
        )
    if exercise.filming.room_above and float(np.median(np.min(places[:, :, 1], axis=1))) < 0.2 * height:
        return Hint(
            "picture edge",
            "unsure",
            "There is little room above the head: see in the test clip that hands and weight stay in the picture at "
            "the highest point.",
        )
    return Hint("picture edge", "good", "All of you stays inside the picture.")


def _light(light: Light) -> Hint:
    if max(light.lifter, light.around) < DARK:
        return Hint("light", "change", "The picture is dark: switch on more light, best from behind the phone.")
    if light.around - light.lifter > GLARE:
        return Hint(
            "light",
            "unsure",
            "You are much darker than what is behind you. If a window or lamp is there, turn so that it is behind the "
            "phone; if it is only dark clothes, leave it.",
        )
    return Hint("light", "good", "There is enough light on you.")


def _in_sight(hidden: Mapping[str, float], near: str | None) -> Hint:
    names = [
        name.replace("_", " ")
        for name, share in hidden.items()
        if share > 0.35 and (near is None or name.startswith(near) or name == "nose")
    ]
    if not names:
        return Hint("in sight", "good", "The joints that count can be seen.")
    listed = ", ".join(names[:4])
    return Hint(
        "in sight",
        "change" if len(names) > 2 else "unsure",
        f"Often hidden: {listed}. Clear machine, rack or bench out of the line of sight and wear clothes that follow "
        "the body.",
    )


def _pace(rate: float) -> Hint:
    if rate < PICTURES_LEAST:
        return Hint(
            "pictures a second",
            "change",
            f"{rate:.0f} pictures a second are too few for times and speeds: choose 30 or 60 in the phone's camera.",
        )
    if rate < PICTURES_WANTED:
        return Hint(
            "pictures a second",
            "unsure",
            f"{rate:.0f} pictures a second do; 30 or 60 make times more exact. More light often brings them.",
        )
    return Hint("pictures a second", "good", f"{rate:.0f} pictures a second: enough.")


# ---------------------------------------------------------------- helpers


def _filled(recording: LandmarkRecording) -> float:
    """Share of the picture the body reaches across in a typical picture, the larger of both directions."""
    points = recording.pixels[:, [INDEX[name] for name in BODY]]
    points = points[np.isfinite(points).all(axis=(1, 2))]
    size = np.array([recording.clip.width, recording.clip.height])
    return float((np.median(np.ptp(points, axis=1), axis=0) / size).max())


def _near_side(yaw: float | None) -> str | None:
    """The side of the body the camera sees from the side; None from front or back."""
    if yaw is None or not 40.0 < abs(yaw) < 140.0:
        return None
    return SIDES[0] if yaw > 0 else SIDES[1]


def _other(way: str) -> str:
    return "left" if way == "right" else "right"
