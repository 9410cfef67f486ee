"""Corrections by hand, applied to what the machine found in the driver signal."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from formcheck.core.errors import UsageError
from formcheck.core.model import Array, Message, Rep, Settings
from formcheck.exercises.schema import Driver
from formcheck.reps.edits import SAME_S, Edits, Placed, Stretch
from formcheck.reps.strokes import TIMING_CYCLES, DriverCurve, Excursion, Timing, find_stroke_times
from formcheck.signals.filtering import low_pass

_FLAT_DEG = 1.0
"""A stroke through less than this has no speed to tell its pause from."""


def apply_corrections(
    found: Sequence[Excursion],
    edits: Edits,
    t: Array,
    out: Array,
    rule: Driver,
    settings: Settings,
    timing: Timing = find_stroke_times,
) -> list[Excursion]:
    """What is a repetition after the corrections, in order of time.

    Parameters
    ----------
    t, out : (m,) uniform seconds; driver in degrees that rises on the way out.

    A rep set by hand wins over what the machine found there. Raises UsageError when it lies outside the clip, or
    nobody was seen in it.
    """
    placed = [_make_excursion(item, t, out, rule, settings, timing) for item in edits.placed]
    gone = [*edits.removed_s, *(item.replaces_s for item in edits.placed if item.replaces_s is not None)]
    detected = []
    for item in found:
        middle = (item.out_start + item.back_end) / 2
        if any(item.out_start <= moment <= item.back_end for moment in gone):
            continue
        if any(by_hand.out_start <= middle <= by_hand.back_end for by_hand in placed):
            continue
        detected.append(_trim(item, placed))
    return sorted([*detected, *placed], key=lambda item: item.out_start)


def list_corrections(edits: Edits, reps: Sequence[Rep]) -> tuple[Message, ...]:
    """What was set by hand, one message each; `reps`: those the corrections led to."""
    messages = [] if edits.exercise_id is None else [Message("exercise-set")]
    messages += [Message("part-left-out", _describe_span(part)) for part in edits.outside]
    messages += [Message("rep-deleted", {"at_s": round(moment, 1)}) for moment in edits.removed_s]
    for item in edits.placed:
        number = next((rep.number for rep in reps if abs(rep.start_s - item.start_s) < SAME_S and rep.by_hand), None)
        which = {} if number is None else {"number": number}
        messages.append(
            Message("rep-added" if item.replaces_s is None else "rep-timed", {**which, **_describe_span(item)})
        )
    return tuple(messages)


def _describe_span(part: Placed | Stretch) -> dict[str, float]:
    return {"start_s": round(part.start_s, 1), "end_s": round(part.end_s, 1)}


def _make_excursion(item: Placed, t: Array, out: Array, rule: Driver, settings: Settings, timing: Timing) -> Excursion:
    times = f"{item.start_s:.2f} to {item.end_s:.2f} s"
    if len(t) < 4 or item.end_s > t[-1] + 0.1:
        raise UsageError(f"The rep from {times} lies outside the clip, which is {t[-1] if len(t) else 0:.2f} s long.")
    first, last = (int(np.argmin(np.abs(t - moment))) for moment in (item.start_s, item.end_s))
    finite = np.isfinite(out)
    if last - first < 3 or np.isfinite(out[first : last + 1]).mean() < 0.5:
        raise UsageError(f"The rep from {times} cannot be measured: the lifter was hardly seen in it.")
    line = np.interp(t, t[finite], out[finite])
    turn = first + int(np.argmax(line[first : last + 1]))
    if item.top_s is not None and rule.first == "concentric":
        turn = int(np.argmin(np.abs(t - item.top_s)))
    turn = min(max(turn, first + 1), last - 1)
    out_end = back_start = float(t[turn])
    reach, rests = float(line[turn]), (float(line[first]), float(line[last]))
    rate = 1 / float(t[1] - t[0])
    curve = DriverCurve.of(
        t, low_pass(line, rate, min(settings.cutoff_hz, 2 * TIMING_CYCLES / (item.end_s - item.start_s)))
    )
    # Start and end are the person's word; where the pause at the turn lies between them is still read from the speed.
    if reach - rests[0] > _FLAT_DEG:
        out_end = timing(curve, first, turn, rests[0], reach, settings.phase_speed_fraction)[1]
    if reach - rests[1] > _FLAT_DEG:
        end = len(t) - 1
        back = timing(curve.reversed(), end - last, end - turn, rests[1], reach, settings.phase_speed_fraction)
        back_start = -back[1]
    return Excursion(
        item.start_s,
        float(np.clip(out_end, item.start_s, t[turn])),
        turn,
        float(np.clip(back_start, t[turn], item.end_s)),
        item.end_s,
        min(rests),
        reach,
        whole=True,
        by_hand=True,
    )


def _trim(item: Excursion, placed: Sequence[Excursion]) -> Excursion:
    """The machine's rep without what overlaps a rep set by hand, which may be a rounded millisecond."""
    for other in placed:
        if other.out_start <= item.out_start < other.back_end:
            item = replace(item, out_start=min(other.back_end, item.out_end))
        if other.out_start < item.back_end <= other.back_end:
            item = replace(item, back_end=max(other.out_start, item.back_start))
    return item
