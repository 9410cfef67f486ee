"""The pictures of a report: angle curves as inline SVG and key frames as inline JPEG."""

import base64
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Analysis, LandmarkRecording, Rep
from formcheck.report import wording
from formcheck.report.body_marks import BodyMark
from formcheck.report.phases import FirstPhase, list_curve_keys, list_phases
from formcheck.signals.interpolation import compute_landmarks_at

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from formcheck.video.mark_drawing import MarkDrawing

Picture = NDArray[np.uint8]
Shape = Literal["wide", "narrow", "paper"]

COLOURS = {
    "#0f5f8c": "var(--left)",
    "#a8456f": "var(--right)",
    "#33454c": "var(--both)",
    "#5b6b71": "var(--muted)",
    "#d5ddd9": "var(--line)",
    "#cfe3ea": "var(--lift)",
    "#e9e2cf": "var(--lower)",
    "#b9c6c4": "var(--hold)",
    "#0b6350": "var(--met)",
    "#9a3b0a": "var(--change)",
    "#475474": "var(--unsure)",
    "#e4f2ed": "var(--met-soft)",
}
"""Colours as drawn → the style sheet's names, so that one drawing serves light, dark and paper."""
_LEFT, _RIGHT, _BOTH, _MUTED, _LINE, _LIFT, _LOWER, _HOLD, *_ = COLOURS
_SHADES = {"lift": _LIFT, "top": _HOLD, "lower": _LOWER}
_STYLES = {"left": (_LEFT, "-"), "right": (_RIGHT, (0, (5, 2))), None: (_BOTH, "-")}
_PICTURE_HEIGHT = 340
_JPEG_QUALITY = 80
_SPARE = 0.08
"""Room around the lifter, as a share of the longer side."""
_ROOM_PX = 16
"""Pixels of the clip around what is drawn."""

Moment = Literal["bottom", "top", "cue", "coach"]
"""Of a rep's stills: its stretched end, its shortened end, and where the number of the cue was read, with its mark; of
none: what the coach drew on."""


@dataclass(frozen=True, slots=True)
class KeyPicture:
    """One still of a rep."""

    rep: int
    moment: Moment
    at_s: float
    data_uri: str
    alt: str
    ratio: float = 1.0
    """Width over height."""


def draw_curve(analysis: Analysis, signal: str, shape: Shape, first: FirstPhase) -> str:
    """One signal over the set as HTML, left and right told apart by colour and dash, rep phases shaded.

    Parameters
    ----------
    signal : a name of `formcheck.core.vocabulary.SIGNALS`; gaps in the curve are left open.
    shape : ``wide`` for a page, ``narrow`` for a telephone: inline SVG; ``paper``: a picture with its letters drawn.
    first : which phase the exercise begins with.
    """
    narrow = shape == "narrow"

    def draw(axes: "Axes") -> None:
        _draw_axes(axes, analysis, signal, first, label_every=2 if narrow and len(analysis.review.reps) > 8 else 1)

    size, letters = ((4.0, 2.7), 10.5) if narrow else ((8.6, 2.5), 9.5)
    return draw_chart(draw, shape, f"{signal}-{shape}", describe_curve(analysis, signal), size=size, letters=letters)


def describe_curve(analysis: Analysis, signal: str) -> str:
    """What a curve shows, for someone who does not see it."""
    parts = []
    for name, side in list_curve_keys(analysis, [signal]):
        values = analysis.signals.get(name, side)
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        who = f"{side} " if side else ""
        parts.append(f"{who}from {wording.format_number(low, 'deg')} to {wording.format_number(high, 'deg')}")
    length = wording.format_moment(float(analysis.signals.t[-1])) if len(analysis.signals.t) else "0:00.0"
    reps = wording.count(len(analysis.review.reps), "rep")
    ranges = "; ".join(parts) or "no values"
    return f"Curve of the {wording.get_signal_name(signal)} over {length} with {reps} marked: {ranges}."


def draw_key_pictures(
    clip: Path,
    recording: LandmarkRecording,
    reps: Sequence[Rep],
    *,
    marks: Sequence[BodyMark] = (),
    large: int | None = None,
    blur_faces: bool = False,
    faces_file: Path | None = None,
) -> list[KeyPicture]:
    """Stills at the bottom and the top of each rep with the skeleton drawn, cut to the lifter.

    Parameters
    ----------
    marks : each gives its rep a third still, of its own moment, with the mark drawn on the body.
    large : the rep whose third still is given in twice the size.
    blur_faces : make the lifter's head unrecognisable, and every other face that is found.
    faces_file : a file in which those found are stored (`formcheck.privacy.other_faces.find_other_faces`).

    Raises ClipError when the clip cannot be read, PoseModelError when faces are to be covered without a pose model.
    """
    from formcheck.privacy.other_faces import find_covers
    from formcheck.report.overlay import read_key_frames
    from formcheck.video.drawing import draw_skeleton
    from formcheck.video.mark_drawing import draw_mark

    of_rep = {mark.rep: mark for mark in marks}
    moments: list[tuple[int, Moment, float]] = []
    for rep in reps:
        bottom = rep.start_s if rep.top_s - rep.start_s > 0.1 else _find_lowest(rep)
        moments += [(rep.number, "bottom", bottom), (rep.number, "top", rep.top_s)]
        if rep.number in of_rep:
            moments.append((rep.number, "cue", of_rep[rep.number].at_s))
    if not moments:
        return []
    window = find_crop_window(recording, reps)
    strokes = {mark.rep: drawing for mark in marks if (drawing := mark.draw_at(recording, mark.at_s)) is not None}
    wider = _widen_window(window, recording, strokes.values())
    covers = find_covers(clip, recording, faces_file=faces_file) if blur_faces else ()
    pictures = []
    for (number, name, at_s), frame in zip(moments, read_key_frames(clip, [at for _, _, at in moments]), strict=True):
        body = compute_landmarks_at(recording, at_s)
        scale = frame.shape[1] / recording.clip.width
        picture = np.array(frame)
        for cover in covers:
            cover.hide(picture, at_s, scale=scale)
        drawn = picture if body is None else draw_skeleton(picture, body[0] * scale, body[1])
        where, what, around = f"at the {name}", "the measured skeleton drawn", window
        if name == "cue":
            mark, around = of_rep[number], wider
            if number in strokes:
                seen = _scale_window(around, scale)
                draw_mark(drawn, strokes[number], mark.text, mark.grade, scale=scale, inside=seen)
            where, what = "where the number was read", f"{mark.text} drawn on the body"
        alt = f"Rep {number} {where}, {wording.format_moment(at_s)} in the clip, with {what}"
        cut, height = _cut(drawn, around, scale), (2 if name == "cue" and number == large else 1) * _PICTURE_HEIGHT
        pictures.append(KeyPicture(number, name, at_s, encode_jpeg(cut, height), alt, cut.shape[1] / cut.shape[0]))
    return pictures


def find_crop_window(recording: LandmarkRecording, reps: Sequence[Rep] = ()) -> tuple[int, int, int, int]:
    """Left, top, right, bottom in pixels around what the lifter reaches in the reps; the whole picture if unseen.

    reps : only their time counts, not the setting up; none: the whole clip.
    """
    width, height = recording.clip.width, recording.clip.height
    inside = np.ones(len(recording.t), dtype=bool)
    if reps:
        inside = (recording.t >= reps[0].start_s) & (recording.t <= reps[-1].end_s)
    seen = recording.pixels[(recording.visibility > 0.3) & inside[:, None]]
    seen = seen[np.isfinite(seen).all(axis=1)]
    if len(seen) == 0:
        return 0, 0, width, height
    (x0, y0), (x1, y1) = np.percentile(seen, 0.5, axis=0), np.percentile(seen, 99.5, axis=0)
    pad = _SPARE * max(x1 - x0, y1 - y0)
    left, top = int(np.clip(x0 - pad, 0, width - 1)), int(np.clip(y0 - 2 * pad, 0, height - 1))
    right, bottom = int(np.clip(x1 + pad, left + 1, width)), int(np.clip(y1 + pad, top + 1, height))
    return left, top, right, bottom


def _widen_window(
    window: tuple[int, int, int, int], recording: LandmarkRecording, drawings: "Iterable[MarkDrawing]"
) -> tuple[int, int, int, int]:
    """The window with all that is drawn inside, such as a stopwatch beside the head, as far as the picture goes."""
    points = [point for drawing in drawings for stroke in drawing.strokes for point in stroke.points]
    if not points:
        return window
    (x0, y0), (x1, y1) = np.min(points, axis=0) - _ROOM_PX, np.max(points, axis=0) + _ROOM_PX
    (left, top), (right, bottom) = np.minimum(window[:2], (x0, y0)), np.maximum(window[2:], (x1, y1))
    clip = recording.clip
    return max(int(left), 0), max(int(top), 0), min(int(right), clip.width), min(int(bottom), clip.height)


def encode_jpeg(picture: Picture, height: int = _PICTURE_HEIGHT) -> str:
    """A JPEG no taller than `height` pixels as a data address."""
    import cv2

    shrink = min(1.0, height / picture.shape[0])
    size = (max(1, round(picture.shape[1] * shrink)), max(1, round(picture.shape[0] * shrink)))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA) if shrink < 1 else picture
    done, data = cv2.imencode(".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
    if not done:
        raise ValueError("the picture cannot be written as JPEG")
    return "data:image/jpeg;base64," + base64.b64encode(data.tobytes()).decode("ascii")


def widen_limits(low: float, high: float, least: float = 30.0) -> tuple[float, float]:
    """Axis limits at least `least` degrees apart, so that jitter does not look like movement."""
    spare = max(0.0, least - (high - low)) / 2
    below = min(spare, max(low, 0.0))  # no room below zero for what is never negative
    return low - below, high + 2 * spare - below


def _find_lowest(rep: Rep) -> float:
    """The stretched moment of a rep that begins at its shortened end."""
    pause = rep.tempo.bottom_pause_s if np.isfinite(rep.tempo.bottom_pause_s) else 0.0
    lower = rep.tempo.eccentric_s if np.isfinite(rep.tempo.eccentric_s) else 0.0
    return min(rep.start_s + lower + pause / 2, rep.end_s)


def _scale_window(window: tuple[int, int, int, int], scale: float) -> tuple[int, int, int, int]:
    left, top, right, bottom = (round(edge * scale) for edge in window)
    return left, top, right, bottom


def _cut(picture: Picture, window: tuple[int, int, int, int], scale: float) -> Picture:
    left, top, right, bottom = _scale_window(window, scale)
    return np.ascontiguousarray(picture[top:bottom, left:right])


def _draw_axes(axes: "Axes", analysis: Analysis, signal: str, first: FirstPhase, label_every: int) -> None:
    t = analysis.signals.t
    for rep in analysis.review.reps:
        for span in list_phases(rep, first):
            if span.name in _SHADES:
                axes.axvspan(span.start_s, span.end_s, color=_SHADES[span.name], linewidth=0, zorder=0)
        if (rep.number - 1) % label_every == 0:
            middle = (rep.start_s + rep.end_s) / 2
            label = f"{rep.number}" if rep.complete else f"({rep.number})"
            axes.text(middle, 1.02, label, transform=axes.get_xaxis_transform(), ha="center", va="bottom", color=_MUTED)
    keys = list_curve_keys(analysis, [signal])
    for name, side in keys:
        colour, dash = _STYLES[side]
        axes.plot(t, analysis.signals.get(name, side), color=colour, linestyle=dash, linewidth=1.6, label=side or "")
    axes.set_xlim(float(t[0]), float(t[-1]))
    axes.set_ylim(*widen_limits(*axes.get_ylim()))
    axes.set_ylabel("degrees", color=_MUTED)
    axes.set_xlabel("seconds in the clip", color=_MUTED)
    axes.tick_params(colors=_MUTED, length=3)
    axes.grid(axis="y", color=_LINE, linewidth=0.7)
    axes.set_axisbelow(True)
    for edge, spine in axes.spines.items():
        spine.set_visible(edge == "bottom")
        spine.set_color(_LINE)


def draw_chart(
    draw: "Callable[[Axes], None]", shape: Shape, tag: str, alt: str, *, size: tuple[float, float], letters: float = 9.5
) -> str:
    """A chart of matplotlib as HTML: a picture for paper, else inline in the style sheet's colours.

    Parameters
    ----------
    size, letters : width and height in inches; of the letters in points.
    tag : what its ids begin with; no other drawing of the document has it.
    alt : what it shows, for someone who does not see it.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    kind = "path" if shape == "paper" else "none"
    with rc_context({"svg.fonttype": kind, "svg.hashsalt": tag, "font.family": "sans-serif", "font.size": letters}):
        figure = Figure(figsize=size, layout="constrained")
        draw(figure.subplots())
        out = io.StringIO()
        figure.savefig(out, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    svg = out.getvalue()
    if shape == "paper":
        return f'<img src="data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}" alt="">'
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\sxmlns(:xlink)?="[^"]*"', "", svg)
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{tag}-\1"', svg)
    svg = re.sub(r'(url\(#|href="#)', rf"\g<1>{tag}-", svg)
    for drawn, name in COLOURS.items():
        svg = svg.replace(drawn, name)
    svg = re.sub(r'(<svg\b[^>]*?)\swidth="[^"]*"', r"\1", svg, count=1)
    svg = re.sub(r'(<svg\b[^>]*?)\sheight="[^"]*"', r"\1", svg, count=1)
    svg = svg.replace("<svg", f'<svg role="img" aria-label="{escape(alt)}"', 1)
    return svg.replace("xlink:href", "href")
