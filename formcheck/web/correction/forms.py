"""The inputs of a correction by hand; each gives all corrections as they would be, or None while nothing is asked."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.core.model import Analysis, LandmarkRecording, Rep, Review
from formcheck.exercises.registry import load_exercises
from formcheck.formats.stored_json import decode_edits, encode_edits
from formcheck.report import wording
from formcheck.reps import edits as by_hand
from formcheck.reps.edits import Edits
from formcheck.services.correction import analyse_corrected
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home
from formcheck.web.components.clip_time_button import mount_time_buttons
from formcheck.web.stored_reviews import load_cached_recording

_SAME_S = 5e-4
_FIELDS = {"start": "Start", "top": "Top", "end": "End"}


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


def ask_moved_rep(edits: Edits, reps: Sequence[Rep], place: TimeFields) -> Edits | None:
    """Start, top and end of one rep; raises UsageError for times that do not fit."""
    rep = _choose_rep(reps, "Rep to move", "move_rep", place)
    if rep is None:
        return None
    found = {"start": rep.start_s, "top": rep.top_s, "end": rep.end_s}
    at = _ask_times(found, f"move_{place.stamp}_{rep.number}", place)
    if all(abs(at[name] - round(value, 3)) < _SAME_S for name, value in found.items()):
        return None
    changed = {f"{name}_s": at[name] for name, value in found.items() if abs(at[name] - round(value, 3)) >= _SAME_S}
    return by_hand.move_rep(edits, reps, rep.number, **changed)


def ask_added_rep(edits: Edits, reps: Sequence[Rep], place: TimeFields) -> Edits | None:
    """Start and end of a rep the machine missed; the top is found between them."""
    at = _ask_times({"start": 0.0, "end": 0.0}, f"add_{place.stamp}", place)
    if at["end"] <= at["start"]:
        st.caption("Bring the clip to where the rep begins and take that moment, then to where it ends.")
        return None
    return by_hand.add_rep(edits, reps, at["start"], at["end"])


def ask_deleted_rep(edits: Edits, reps: Sequence[Rep], place: TimeFields) -> Edits | None:
    """A rep that is none."""
    rep = _choose_rep(reps, "Rep to delete", "delete_rep", place, choose=True)
    return None if rep is None else by_hand.delete_rep(edits, reps, rep.number)


def ask_left_out_part(edits: Edits, place: TimeFields) -> Edits | None:
    """A part of the clip that does not belong to the set."""
    at = _ask_times({"start": 0.0, "end": 0.0}, f"out_{place.stamp}", place)
    if at["end"] <= at["start"]:
        st.caption("Walking in, setting up, racking the weight: take where that begins and where it ends.")
        return None
    return by_hand.leave_out(edits, at["start"], at["end"])


def ask_exercise(edits: Edits, now: str) -> Edits | None:
    """Which exercise it really was."""
    known = load_exercises()
    others = [name for name in known if name != now]
    chosen = st.selectbox(
        "It really was",
        others,
        index=None,
        format_func=lambda name: known[name].name,
        placeholder="Choose the exercise",
        key=f"as_exercise_{now}",
    )
    return None if chosen is None else by_hand.as_exercise(edits, chosen)


def analyse_correction(review_id: int, edits: Edits) -> Analysis:
    """What the analysis says with these corrections; nothing is stored (FormcheckError)."""
    with Store.open() as store:
        (row,) = store.list_reviews(review_id=review_id)
        own = store.limits_of(edits.exercise_id or store.load_original(review_id).exercise.id, client=row.client_id)
    return _analyse(review_id, encode_edits(edits), row.clip_sha256, ",".join(str(item.id) for item in own))


def load_landmarks(review_id: int) -> LandmarkRecording | None:
    """The landmarks of a review; None when they are not kept any more."""
    try:
        return load_cached_recording(review_id)
    except FormcheckError:
        return None


def replace_reps(review: Review, reps: Sequence[Rep]) -> Review:
    """The review with other reps, for the player."""
    return replace(review, reps=tuple(reps))


@st.cache_resource(max_entries=8, show_spinner=False)
def _analyse(review_id: int, edits: str, clip: str, limits: str) -> Analysis:
    with Store.open() as store:
        recording = load_cached_recording(review_id)
        return analyse_corrected(store, review_id, decode_edits(edits), data_home(), recording=recording)


def _choose_rep(reps: Sequence[Rep], label: str, key: str, place: TimeFields, *, choose: bool = False) -> Rep | None:
    if not reps:
        st.info("No rep was found in this clip.")
        return None
    return st.selectbox(
        label,
        list(reps),
        index=None if choose else 0,
        format_func=lambda rep: (
            f"Rep {rep.number}, {wording.moment(rep.start_s)} to {wording.moment(rep.end_s)}"
            f"{'' if rep.complete else ', partial'}{', set by hand' if rep.by_hand else ''}"
        ),
        placeholder="Choose a rep",
        key=f"{key}_{place.stamp}",
    )


def _ask_times(found: dict[str, float], key: str, place: TimeFields) -> dict[str, float]:
    """Seconds of the clip for each name, typed, stepped by pictures, or taken from the clip."""

    def take(name: str, at_s: float) -> None:
        st.session_state[f"{key}_{name}"] = round(min(max(at_s, 0.0), place.length_s), 3)

    mount_time_buttons(
        place.clip, [(name, f"{_FIELDS[name]} = clip now") for name in found], key=f"{key}_take", take=take
    )
    chosen = {}
    for column, (name, value) in zip(st.columns(len(found)), found.items(), strict=True):
        field = f"{key}_{name}"
        if field not in st.session_state:
            st.session_state[field] = round(max(value, 0.0), 3)
        with column:
            chosen[name] = st.number_input(
                f"{_FIELDS[name]}, s",
                min_value=0.0,
                max_value=max(place.length_s, value) + place.step_s,
                step=place.step_s,
                format="%.2f",
                key=field,
                help="Seconds of the clip; plus and minus go one picture on and back.",
            )
    return chosen
