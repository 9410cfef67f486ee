"""The inputs of a correction by hand."""

from collections.abc import Sequence
from dataclasses import dataclass

import streamlit as st

from formcheck.core.model import Rep, Review
from formcheck.exercises.registry import load_exercises
from formcheck.report import wording
from formcheck.reps import edits as by_hand
from formcheck.reps.edits import Edits
from formcheck.web.components.clip_time_button import mount_time_buttons

KINDS = {
    "move": "Move a rep",
    "add": "Add a rep",
    "delete": "Delete a rep",
    "leave_out": "Leave a part out",
    "exercise": "Another exercise",
}
_HINTS = {
    "add": "Move the clip to where the rep begins and take that moment; then do the same where it ends.",
    "leave_out": "For walking in, setting up or racking the weight: take where that begins and where it ends.",
}
_FIELDS = {"start": "Start", "top": "Top", "end": "End"}
_SAME_S = 5e-4


@dataclass(frozen=True, slots=True)
class TimeFields:
    """Where moments are chosen: the clip and what the fields are called."""

    length_s: float
    step_s: float
    """One picture of the clip."""
    clip: str
    """Key of the container that holds the clip."""
    stamp: str
    """Part of the fields' keys, other for every state of the review."""


def ask_correction(kind: str, edits: Edits, review: Review, fields: TimeFields) -> Edits | None:
    """All corrections as they would be with one more; None while nothing is asked for.

    Parameters
    ----------
    kind : one of `KINDS`.
    edits : the corrections in force.
    review : the review as it stands.

    Raises UsageError for times that do not fit.
    """
    reps = review.reps
    if kind == "exercise":
        exercise_id = _ask_exercise(review.exercise.id)
        return None if exercise_id is None else by_hand.set_exercise(edits, exercise_id)
    if kind in _HINTS:
        at = _ask_times({"start": 0.0, "end": 0.0}, f"{kind}_{fields.stamp}", fields)
        if at["end"] <= at["start"]:
            st.caption(_HINTS[kind])
            return None
        if kind == "add":
            return by_hand.add_rep(edits, reps, at["start"], at["end"])
        return by_hand.leave_out(edits, at["start"], at["end"])
    rep = _choose_rep(reps, kind, fields)
    if rep is None:
        return None
    if kind == "delete":
        return by_hand.delete_rep(edits, reps, rep.number)
    found = {"start": rep.start_s, "top": rep.top_s, "end": rep.end_s}
    at = _ask_times(found, f"move_{fields.stamp}_{rep.number}", fields)
    changed = {f"{name}_s": at[name] for name, value in found.items() if abs(at[name] - round(value, 3)) >= _SAME_S}
    return by_hand.move_rep(edits, reps, rep.number, **changed) if changed else None


def _ask_exercise(now: str) -> str | None:
    """Which exercise it really was."""
    names = {exercise.id: exercise.name for exercise in load_exercises().values() if exercise.id != now}
    return st.selectbox(
        "It really was",
        list(names),
        index=None,
        format_func=names.__getitem__,
        placeholder="Choose the exercise",
        key=f"other_exercise_{now}",
    )


def _choose_rep(reps: Sequence[Rep], kind: str, fields: TimeFields) -> Rep | None:
    if not reps:
        st.info("No rep was found in this clip.")
        return None
    return st.selectbox(
        f"Rep to {kind}",
        list(reps),
        index=0 if kind == "move" else None,
        format_func=lambda rep: (
            f"Rep {rep.number}, {wording.format_moment(rep.start_s)} to {wording.format_moment(rep.end_s)}"
            f"{'' if rep.complete else ', partial'}{', set by hand' if rep.by_hand else ''}"
        ),
        placeholder="Choose a rep",
        key=f"{kind}_rep_{fields.stamp}",
    )


def _ask_times(found: dict[str, float], key: str, fields: TimeFields) -> dict[str, float]:
    """Seconds of the clip for each name, typed, stepped by pictures, or taken from the clip."""

    def take(name: str, at_s: float) -> None:
        st.session_state[f"{key}_{name}"] = round(min(max(at_s, 0.0), fields.length_s), 3)

    buttons = [(name, f"{_FIELDS[name]} = clip now") for name in found]
    mount_time_buttons(fields.clip, buttons, key=f"{key}_take", take=take)
    chosen = {}
    for column, (name, value) in zip(st.columns(len(found)), found.items(), strict=True):
        field = f"{key}_{name}"
        st.session_state.setdefault(field, round(max(value, 0.0), 3))
        chosen[name] = column.number_input(
            f"{_FIELDS[name]}, s",
            min_value=0.0,
            max_value=max(fields.length_s, value) + fields.step_s,
            step=fields.step_s,
            format="%.2f",
            key=field,
            help="Seconds of the clip; plus and minus move one picture forward and back.",
        )
    return chosen
