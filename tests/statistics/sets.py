"""Invented reviews of a set with just what plans and advice look at."""

from dataclasses import replace

from formcheck.core.model import (
    CameraView,
    ClipInfo,
    ExerciseRef,
    Finding,
    Measure,
    PoseModelInfo,
    Quality,
    Rep,
    Review,
    SetInfo,
    Tempo,
    Verdict,
)
from formcheck.core.rep_sides import tell_sides
from formcheck.exercises.registry import get_exercise

NO_SWING = "Not measurable from the front; film from the side."
TEMPO = Tempo(2.0, 1.0, 1.2, 0.3)


def a_set(
    complete: int,
    *,
    partial: int = 0,
    load: float | None = 8.0,
    target: int | None = None,
    range_deg: float | None = 85.0,
    tracked: float = 1.0,
    tempo: Tempo = TEMPO,
    margin: float = 0.1,
    not_met: dict[str, int] | None = None,
    by_hand: tuple[str, ...] = (),
    exercise: str = "lateral-raise",
) -> Review:
    """A set of an exercise; `not_met`: measure → in how many of the first reps its check was not met."""
    reps = tuple(
        Rep(n, 4.0 * n, 4.0 * n + 1.5, 4.0 * n + 3.2, n <= complete, tempo) for n in range(1, complete + partial + 1)
    )
    measures = []
    for rep in reps:
        reason = None if range_deg is not None else "Hidden."
        share, wide = (None, None) if range_deg is None else (1.0, 4.0)
        measures += [
            Measure("range_of_motion", "left", rep.number, range_deg, wide, "deg", reason),
            Measure("range_share", None, rep.number, share, None if share is None else 0.05, "ratio", reason),
            Measure("torso_inclination_range", None, rep.number, None, None, "deg", NO_SWING),
            Measure("eccentric_time", None, rep.number, tempo.eccentric_s, margin, "s"),
            Measure("bottom_pause", None, rep.number, tempo.bottom_pause_s, margin, "s"),
            Measure("concentric_time", None, rep.number, tempo.concentric_s, margin, "s"),
            Measure("top_pause", None, rep.number, tempo.top_pause_s, margin, "s"),
        ]  # fmt: skip
    verdict: Verdict = "not_met"
    findings = tuple(
        Finding(name, verdict, tuple(range(1, count + 1)), name, 0.7, 0.95, 1.0, "Invented.", "common practice")
        for name, count in (not_met or {}).items()
    )
    return Review(
        ClipInfo("invented.mp4", "0" * 64, 608, 1080, 60.0, 1800, 30.0, False, "h264"),
        PoseModelInfo("invented", "0" * 64),
        ExerciseRef(exercise, get_exercise(exercise).name),
        SetInfo(load, target),
        CameraView("front", 0.0, 5.0, "estimated"),
        Quality(tracked, 30.0, 800.0, {}, {}),
        reps,
        tuple(measures),
        findings,
        ("Advisory only.",),
        by_hand=by_hand,
    )


def in_turn(sides: str, *, partial: int = 0, load: float | None = 8.0) -> Review:
    """A set of strokes of one arm: ``LRL`` is left, right, left, the last ones of them partial."""
    review = a_set(len(sides) - partial, partial=partial, load=load)
    reps = tuple(
        replace(rep, side="left" if side == "L" else "right") for rep, side in zip(review.reps, sides, strict=True)
    )
    return replace(review, reps=reps, sides=tell_sides(reps))
