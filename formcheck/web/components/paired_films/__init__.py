"""Two clips side by side, in step by the phase of a rep, with the skeleton and the same angle drawn on both."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from formcheck.core.model import Array, LandmarkRecording, Rep
from formcheck.report.body_marks import BodyMark
from formcheck.report.figures import find_crop_window
from formcheck.signals.interpolation import compute_landmarks_at
from formcheck.signals.skeleton import BODY, BONES, INDEX
from formcheck.web.charts.angle_curves import First
from formcheck.web.charts.phase_axis import STEPS
from formcheck.web.components.assets import declare_component

_mount = declare_component("paired_films", "paired_films.html", "paired_films.css", "paired_films.js")
_VISIBLE = 0.3
_SHOWN = ("base", "arc", "limb", "target")


@dataclass(frozen=True, eq=False)
class RepFilm:
    """One rep of a clip."""

    container: str
    """Key of the container that holds the clip."""
    recording: LandmarkRecording
    reps: tuple[Rep, ...]
    """What the clip is cut to: the room that the lifter takes in them."""
    times: Array
    """(2·STEPS,) seconds of the clip at the steps of the phase; NaN where a phase is not known."""
    mark: BodyMark | None = None


def make_pair_data(films: Sequence[RepFilm], first: First) -> dict[str, Any] | None:
    """What the browser needs: numbers and fixed words; None where no phase is known of both."""
    known = np.flatnonzero(np.isfinite([film.times for film in films]).all(axis=0))
    if not len(known):
        return None
    steps = [[int(step >= STEPS), round(100 * (step % STEPS) / (STEPS - 1))] for step in known.tolist()]
    return {
        "films": [_pack_film(film, film.times[known]) for film in films],
        "bones": [[BODY.index(one), BODY.index(other), _find_side(one, other)] for one, other in BONES],
        "phases": ["lifting", "lowering"] if first == "concentric" else ["lowering", "lifting"],
        "steps": steps,
        "start": int(np.searchsorted(known, STEPS - 1)),
    }


def _pack_film(film: RepFilm, times: Array) -> dict[str, Any]:
    clip, points, marks = film.recording.clip, [], []
    left, top, right, bottom = find_crop_window(film.recording, film.reps)
    for t in times.tolist():
        body = compute_landmarks_at(film.recording, t)
        points.append([None] * (2 * len(BODY)) if body is None else _pack_points(*body))
        drawing = film.mark.trace(body[0]) if film.mark is not None and body is not None else None
        strokes = drawing.strokes if drawing is not None else ()
        marks.append(
            [
                [stroke.role, [[round(x, 1), round(y, 1)] for x, y in stroke.points]]
                for stroke in strokes
                if stroke.role in _SHOWN
            ]
        )
    return {
        "container": film.container,
        "width": clip.width,
        "height": clip.height,
        "window": [left, top, right - left, bottom - top],
        "times": [round(t, 3) for t in times.tolist()],
        "points": points,
        "marks": marks,
    }


def _pack_points(pixels: Array, visibility: Array) -> list[float | None]:
    row: list[float | None] = []
    for name in BODY:
        x, y = pixels[INDEX[name]].tolist()
        seen = bool(np.isfinite((x, y)).all()) and visibility[INDEX[name]] >= _VISIBLE
        row += [round(x, 1), round(y, 1)] if seen else [None, None]
    return row


def _find_side(one: str, other: str) -> str:
    sides = {name.split("_")[0] for name in (one, other)}
    return sides.pop() if len(sides) == 1 else "middle"


def mount_pair(data: dict[str, Any], key: str) -> None:
    """Put the controls of both clips into the page."""
    _mount(key=key, data=data, height="content")
