"""The controls of two films that are played in step, and what is drawn on the bodies in both."""

from collections.abc import Mapping, Sequence
from typing import Any

from formcheck.core.model import LandmarkRecording, Rep
from formcheck.report.body_marks import BodyMark
from formcheck.web.compare.in_step import Step
from formcheck.web.components.assets import declare_component
from formcheck.web.components.player import pack_landmark_track, pack_marks
from formcheck.web.components.player.follow import find_lifter_window

_PLAYER = "../player/"
mount_films = declare_component(
    "two_films",
    "two_films.html",
    "two_films.css",
    *(_PLAYER + name for name in ("times.js", "stage.js", "skeleton.js", "marks.js")),
    "films_clock.js",
    "two_films.js",
)

Json = dict[str, Any]


def make_film(
    clip: str, recording: LandmarkRecording, reps: Sequence[Rep], marks: Sequence[BodyMark], check: str, *, drawn: bool
) -> Json:
    """One film: numbers and fixed words, nothing a user wrote.

    Parameters
    ----------
    clip : key of the container that holds it.
    reps : those that are shown, which the picture is cropped to.
    check : the point whose marks are drawn.
    drawn : whether the film has the skeleton in its pictures already.
    """
    return {
        "clip": clip,
        "track": None if drawn else pack_landmark_track(recording),
        "around": find_lifter_window(recording, reps),
        "marks": {} if drawn else pack_marks(marks, recording),
        "check": check,
    }


def make_films_data(films: tuple[Json, Json], steps: Sequence[Step], begin_s: float) -> Json:
    """What the controls need to know.

    Parameters
    ----------
    begin_s : where on the common clock both films stand at first.
    """
    rows: list[Mapping[str, Any]] = [
        {
            "reps": list(step.reps),
            "words": step.words,
            "at": round(step.at_s, 4),
            "seconds": round(step.seconds, 4),
            "spans": [[round(end, 4) for end in span] for span in step.spans],
        }
        for step in steps
    ]
    return {"films": list(films), "steps": rows, "begin": round(begin_s, 3)}
