"""The controls under a clip: its timeline, its speed, and whatever element of the page moves it to another time."""

import base64
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import SIDES, Analysis, Array, LandmarkRecording, Review
from formcheck.core.vocabulary import SIGNALS
from formcheck.core.vocabulary.numbers import round_up
from formcheck.report import wording
from formcheck.report.body_marks import BodyMark
from formcheck.report.explanations import find_signal_margin
from formcheck.report.phases import PHASE_WORDS, FirstPhase, list_phases
from formcheck.signals.skeleton import BODY, BONES, INDEX
from formcheck.web.components.assets import declare_component

_SCRIPTS = (
    "times.js",
    "stage.js",
    "skeleton.js",
    "marks.js",
    "timeline.js",
    "../chart_cursor.js",
    "charts.js",
    "player.js",
)
mount_player = declare_component("player", "player.html", "player.css", *_SCRIPTS)
_STEPS = 8192
"""Landmarks go to the browser in this many steps of the picture's longer side: finer than a screen shows."""
_MISSING = -32768
_CURVE_POINTS = 500
_VISIBLE = 0.5
_EXTREMES = ("_peak", "_low", "_max", "_min", "_top")
"""Endings of measures that are the largest, smallest or last value of the signal before them."""

Json = dict[str, Any]


def make_player_data(
    review: Review,
    first: FirstPhase,
    *,
    scope: str,
    viewer: str,
    clip: str,
    track: Json | None = None,
    curve: Json | None = None,
    around: Json | None = None,
    marks: Sequence[BodyMark] = (),
    recording: LandmarkRecording | None = None,
    check: str = "",
) -> Json:
    """What the player needs to know: numbers of the clip and fixed words, nothing a user wrote.

    Parameters
    ----------
    scope : key of the container whose elements may move the clip.
    viewer : key of the container that holds the clip and the controls.
    clip : key of the container that holds the clip.
    track : `pack_landmark_track`; without it no skeleton is drawn.
    curve : `find_lift_curve`; without it the timeline under the clip has no curve.
    around : `find_lifter_window`; without it the whole picture is shown.
    marks, recording : what is drawn on the body at its moment, and the landmarks it lies on.
    check : the point whose marks are shown, unless what led to a moment says another.
    """
    moments = {mark.rep: mark.at_s for mark in marks if mark.check == check}
    reps = [
        {
            "number": rep.number,
            "start": rep.start_s,
            "top": rep.top_s,
            "show": moments.get(rep.number, rep.top_s),
            "end": rep.end_s,
            "phases": [
                {"name": span.name, "words": PHASE_WORDS[span.name], "start": span.start_s, "end": span.end_s}
                for span in list_phases(rep, first)
            ],
        }
        for rep in review.reps
    ]
    size = {"rate": review.clip.frame_rate, "duration": review.clip.duration_s}
    packed = pack_marks(marks, recording) if recording is not None else {}
    keys = {"scope": scope, "viewer": viewer, "clip": clip}
    drawn = {"track": track, "curve": curve, "around": around, "marks": packed, "check": check}
    return {**keys, **size, "reps": reps, **drawn}


def pack_marks(marks: Sequence[BodyMark], recording: LandmarkRecording) -> Json:
    """Point → its marks with the strokes of every picture they are shown in, in whole pixels of the clip."""
    packed: Json = {}
    for mark in marks:
        frames = [
            [
                round(t, 3),
                [[item.role, [round(value) for point in item.points for value in point]] for item in drawing.strokes],
                [round(value) for value in drawing.label],
            ]
            for t, drawing in mark.list_drawings(recording)
        ]
        if frames:
            shown = {"rep": mark.rep, "at": mark.at_s, "from": frames[0][0], "to": frames[-1][0]}
            shown |= {"grade": mark.grade, "text": mark.text, "frames": frames}
            packed.setdefault(mark.check, []).append(shown)
    return packed


def pack_landmark_track(recording: LandmarkRecording) -> Json:
    """The body points of every picture, packed: n × parts × (x, y) in steps of the longer side, gone where unseen."""
    indices = [INDEX[name] for name in BODY]
    clip = recording.clip
    scaled = np.round(recording.pixels[:, indices] * (_STEPS / max(clip.width, clip.height)))
    missing = ~(np.abs(scaled) < -_MISSING).all(axis=2, keepdims=True)  # NaN is missing too
    ticks = np.round(recording.t * 10_000).astype(int)
    return {
        "width": clip.width,
        "height": clip.height,
        "steps": _STEPS,
        "parts": list(BODY),
        "points": _encode_numbers(np.where(missing, _MISSING, scaled)),
        "seen": _encode_numbers(recording.visibility[:, indices] >= _VISIBLE),
        "steps_between": np.diff(ticks, prepend=0).tolist(),
        "bones": [[BODY.index(start), BODY.index(end), _find_side(start, end)] for start, end in BONES],
    }


def find_lift_curve(analysis: Analysis, measure: str | None = None, limit: float | None = None) -> Json | None:
    """The angle under the clip with its name, left and right where it has sides; None where there is none.

    measure : the number shown of each rep. The angle whose extreme it is, is shown; without one, or where it is no
        angle's extreme, the curve the reps were cut from.
    limit : what is asked of that number, drawn as a line where the angle is its own.
    """
    t, signals = analysis.signals.t, analysis.signals
    if len(t) < 2:
        return None
    own = _find_angle(measure, analysis)
    name = own or analysis.driver_name
    curves = [(side, signals.get(name, side)) for side in (*SIDES, None)]
    curves = [curve for curve in curves if np.isfinite(curve[1]).any()] or [(None, analysis.driver)]
    every = max(1, len(t) // _CURVE_POINTS)
    sign = "°" if SIGNALS[name].unit == "deg" else ""
    margin = find_signal_margin(name, analysis.review)
    return {
        "start": float(t[0]),
        "step": float(t[1] - t[0]) * every,
        "sign": sign,
        "margin": "" if margin is None else f"± {round_up(margin, 0):.0f}{sign}",
        "limit": limit if own is not None else None,
        "name": wording.capitalise(SIGNALS[name].plain),
        "lines": [{"side": side, "values": _round_values(values[::every])} for side, values in curves],
    }


def _find_angle(measure: str | None, analysis: Analysis) -> str | None:
    """The angle whose largest, smallest or last value in a rep a measure is; None where it is none of an angle seen."""
    for (name, _), values in analysis.signals.series.items():
        shown = measure in [name + extreme for extreme in _EXTREMES] and SIGNALS[name].unit == "deg"
        if shown and np.isfinite(values).any():
            return name
    return None


def _encode_numbers(values: NDArray[Any]) -> str:
    return base64.b64encode(values.astype("<i2").tobytes()).decode("ascii")


def _round_values(values: Array) -> list[float | None]:
    return [round(float(value), 1) if np.isfinite(value) else None for value in values]


def _find_side(start: str, end: str) -> str:
    sides = {name.split("_")[0] for name in (start, end)}
    return sides.pop() if len(sides) == 1 else "middle"
