"""The part of the page that ties the clip to findings, reps and curves: a click anywhere moves the clip."""

import base64
from pathlib import Path
from typing import Any, Literal

import numpy as np
import streamlit as st

from formcheck.core.model import SIDES, Analysis, LandmarkRecording, Review, Side
from formcheck.core.vocabulary import SIGNALS
from formcheck.core.vocabulary.numbers import rounded_up
from formcheck.report import wording
from formcheck.report.explanations import margin_of_signal
from formcheck.report.phases import PHASE_WORDS, phase_spans
from formcheck.signals.skeleton import BODY, BONES, INDEX

_FOLDER = Path(__file__).parent
_SCRIPTS = ("moments.js", "bones.js", "course.js", "plots.js", "player.js")
_mount = st.components.v2.component(
    "formcheck_player",
    html=(_FOLDER / "player.html").read_text(encoding="utf-8"),
    css=(_FOLDER / "player.css").read_text(encoding="utf-8"),
    js="\n".join((_FOLDER / name).read_text(encoding="utf-8") for name in _SCRIPTS),
)
_STEPS = 8192
"""Landmarks go to the browser in this many steps of the picture's longer side: finer than a screen shows."""
_GONE = -32768
_COURSE_POINTS = 500
_SEEN = 0.5
_SIGNS = {"deg": "°"}

Pack = dict[str, Any]


def make_player_data(
    review: Review,
    first: Literal["concentric", "eccentric"],
    *,
    scope: str,
    clip: str,
    track: Pack | None = None,
    course: Pack | None = None,
) -> Pack:
    """What the player needs to know: numbers of the clip and fixed words, nothing a user wrote.

    Parameters
    ----------
    scope : key of the container whose elements may move the clip.
    clip : key of the container that holds the clip.
    track : `pack_landmark_track`; without it no skeleton is drawn.
    course : `find_lift_curve`; without it the course under the clip has no curve.
    """
    reps = [
        {
            "number": rep.number,
            "start": rep.start_s,
            "top": rep.top_s,
            "end": rep.end_s,
            "phases": [
                {"name": span.name, "words": PHASE_WORDS[span.name], "start": span.start_s, "end": span.end_s}
                for span in phase_spans(rep, first)
            ],
        }
        for rep in review.reps
    ]
    return {
        "scope": scope,
        "clip": clip,
        "rate": review.clip.frame_rate,
        "duration": review.clip.duration_s,
        "reps": reps,
        "track": track,
        "course": course,
    }


def pack_landmark_track(recording: LandmarkRecording) -> Pack:
    """The body points of every picture, packed: n × parts × (x, y) in steps of the longer side, gone where unseen."""
    places = [INDEX[name] for name in BODY]
    long_side = max(recording.clip.width, recording.clip.height)
    scaled = np.round(recording.pixels[:, places] * (_STEPS / long_side))
    lost = ~(np.abs(scaled) < -_GONE).all(axis=2, keepdims=True)  # NaN is lost too
    points = np.where(lost, _GONE, scaled).astype("<i2")
    seen = (recording.visibility[:, places] >= _SEEN).astype("<i2")
    ticks = np.round(recording.t * 10_000).astype(int)
    return {
        "width": recording.clip.width,
        "height": recording.clip.height,
        "steps": _STEPS,
        "parts": list(BODY),
        "points": _pack(points),
        "seen": _pack(seen),
        "steps_between": np.diff(ticks, prepend=0).tolist(),
        "bones": [[BODY.index(start), BODY.index(end), _side(start, end)] for start, end in BONES],
    }


def find_lift_curve(analysis: Analysis, measure: str | None = None) -> Pack | None:
    """The angle under the clip with its name, left and right where it has sides; None where there is none.

    measure : the number shown of each rep. The angle whose end it is, is shown; without one, or where it is no angle's
        end, the curve the reps were cut from.
    """
    t = analysis.signals.t
    if len(t) < 2:
        return None
    signals = analysis.signals
    name = _find_angle(measure, analysis) or analysis.driver_name
    sides: tuple[Side | None, ...] = (*SIDES, None)
    curves = [(side, signals.get(name, side)) for side in sides if np.isfinite(signals.get(name, side)).any()]
    curves = curves or [(None, analysis.driver)]
    every = max(1, len(t) // _COURSE_POINTS)
    step = float(t[1] - t[0]) * every
    lines = [{"side": side, "values": _round(values[::every])} for side, values in curves]
    sign = _SIGNS.get(SIGNALS[name].unit, "") if name in SIGNALS else ""
    margin = margin_of_signal(name, analysis.review)
    after = "" if margin is None else f"± {rounded_up(margin, 0):.0f}{sign}"
    plain = wording.capital(wording.signal_name(name).partition(" (")[0])
    return {"start": float(t[0]), "step": step, "sign": sign, "margin": after, "name": plain, "lines": lines}


_ENDS = ("_peak", "_low", "_max", "_min", "_top")


def _find_angle(measure: str | None, analysis: Analysis) -> str | None:
    """The angle whose largest, smallest or last value in a rep a measure is; None where it is none of an angle seen."""
    ends = [measure.removesuffix(end) for end in _ENDS if measure is not None and measure.endswith(end)]
    name = ends[0] if ends else ""
    seen = any(key == name and np.isfinite(values).any() for (key, _), values in analysis.signals.series.items())
    return name if seen and name in SIGNALS and SIGNALS[name].unit == "deg" else None


def mount_player(data: Pack, key: str) -> None:
    """Put the controls under the clip."""
    _mount(key=key, data=data)


def _pack(values: "np.ndarray[Any, np.dtype[np.int16]]") -> str:
    return base64.b64encode(np.ascontiguousarray(values).tobytes()).decode("ascii")


def _round(values: "np.ndarray[Any, np.dtype[np.float64]]") -> list[float | None]:
    return [round(float(value), 1) if np.isfinite(value) else None for value in values]


def _side(start: str, end: str) -> str:
    sides = {name.split("_")[0] for name in (start, end)}
    return sides.pop() if len(sides) == 1 else "middle"
