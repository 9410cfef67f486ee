"""The form of one clip before its review: exercise, camera, load, target reps, second camera."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

import streamlit as st

from formcheck.coaching.plan import MOST_KG, MOST_REPS, Plan, PlannedSet
from formcheck.core.errors import FormcheckError
from formcheck.core.model import ViewHint
from formcheck.exercises.registry import get_exercise, list_own_exercise_problems, load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.jobs.background_tasks import ClipSuggestion
from formcheck.jobs.queue import JobRequest, jobs_in_line
from formcheck.report import wording
from formcheck.storage import Client, Store, media_files
from formcheck.storage.clients import LONGEST_NAME
from formcheck.web import layout, uploads
from formcheck.web.components.training_html import format_planned_reps
from formcheck.web.review import chosen_clips
from formcheck.web.review.chosen_clips import ReadyClip
from formcheck.web.review.progress import describe_progress
from formcheck.web.session_state import page_state

_VIEWS: dict[ViewHint, str] = {
    "auto": "Find out from the clip",
    "front": "From the front",
    "back": "From behind",
    "side": "From the side",
    "oblique": "At an angle",
}


NOBODY = wording.capitalise(wording.NO_CLIENT)


@dataclass(frozen=True, slots=True)
class SessionDraft:
    """Whose sets are filled in, where a clip's form names nobody else, of which day, and how many there are."""

    name: str | None
    """The client's name, of a new one too."""
    day: date
    names: tuple[str, ...] | None
    """The clients a clip's form offers; None where there is one clip only."""
    counted: Counter[tuple[str | None, str]]
    """How many sets of a client and an exercise are in line or were filled in above."""

    @classmethod
    def begin(cls, name: str | None, day: date, clips: int) -> "SessionDraft":
        """With the sets that are in line already."""
        line = [job.request for job in jobs_in_line() if job.request.session_on == day.isoformat()]
        counted = Counter((request.client, request.exercise) for request in line)
        return cls(name, day, list_client_names() if clips > 1 else None, counted)


def list_client_names() -> tuple[str, ...]:
    """All clients' names."""
    with Store.open() as store:
        return tuple(client.name for client in store.list_clients())


def clean_name(chosen: str | None) -> str | None:
    """A client's name, chosen or typed, as it is stored; None for nobody."""
    name = " ".join(str(chosen or "").split())[:LONGEST_NAME]
    return None if name.casefold() in ("", NOBODY.casefold()) else name


def ask_set(clip: ReadyClip, session: SessionDraft) -> JobRequest | None:
    """Ask for what is to be known about a set; None as long as the exercise is open."""
    suggestion = clip.suggestion
    exercise = _choose_exercise(clip, suggestion)
    client, name = _choose_client(clip, session)
    view = st.selectbox(
        "Where did the camera stand?",
        list(_VIEWS),
        format_func=lambda item: _describe_view(item, suggestion),
        key=f"view_{clip.key}",
        help=exercise.filming.advice if exercise else None,
    )
    number, plan = _find_plan(session, client, exercise)
    planned = plan.for_set(number) if plan is not None else None
    # A new default needs a new field: one that was drawn before keeps what it held.
    key = f"{clip.key}_{name}_{exercise.id if exercise else ''}_{number if plan else ''}"
    left, right = st.columns(2)
    planned_load, planned_reps = (planned.load_kg, planned.reps_low) if planned else (None, None)
    load = left.number_input("Load, kg", 0.0, MOST_KG, planned_load, step=0.5, key=f"load_{key}")
    target = right.number_input("Target reps", 1, MOST_REPS, planned_reps, step=1, key=f"target_{key}")
    if plan is not None:
        st.caption(describe_plan(number, planned, plan))
    second_path, second_name = _ask_second_camera(clip) or (None, None)
    if exercise is None:
        return None
    session.counted[name, exercise.id] += 1
    return JobRequest(
        str(clip.path),
        clip.name,
        exercise.id,
        view,
        load,
        int(target) if target is not None else None,
        client=name,
        session_on=session.day.isoformat(),
        second_path=second_path,
        second_name=second_name,
    )


def describe_plan(number: int, planned: PlannedSet | None, plan: Plan) -> str:
    """What the client's plan says of a set, for the caption under load and reps."""
    if planned is None:
        return f"Set {number}: beyond the {len(plan.sets)} sets planned."
    parts = [f"{format_planned_reps(planned)} reps", wording.format_load(planned.load_kg)]
    if plan.tempo is not None:
        parts.append("tempo " + "-".join("X" if part is None else f"{part:g}" for part in plan.tempo))
    if plan.range_deg is not None:
        parts.append(f"range {plan.range_deg:g}°")
    return f"Set {number} of the plan: {', '.join(part for part in parts if part)}."


def _choose_exercise(clip: ReadyClip, suggestion: ClipSuggestion | None) -> Exercise | None:
    exercises = load_exercises()
    key = f"exercise_{clip.key}"
    ranked = [name for name, _ in suggestion.ranked if name in exercises] if suggestion else []
    known = clip.exercise or (suggestion.ranked[0][0] if suggestion and suggestion.sure else None)
    if known in exercises and st.session_state.get(key) is None:
        st.session_state[key] = known
    names = page_state().exercise_orders.setdefault(clip.key, list(dict.fromkeys([*ranked, *exercises])))
    chosen = st.selectbox(
        "Exercise",
        names,
        index=None,
        format_func=lambda name: exercises[name].name,
        placeholder="Choose the exercise",
        key=key,
    )
    for problem in list_own_exercise_problems():
        st.warning(layout.escape_markdown(problem))
    if suggestion is not None:
        st.caption(describe_suggestion(suggestion, {name: item.name for name, item in exercises.items()}))
    elif clip.job is not None and clip.job.status.state == "failed":
        reason = clip.job.status.problem or "What it shows could not be told; please choose."
        st.caption(layout.escape_markdown(reason))
    elif clip.job is not None:
        progress = describe_progress(clip.job.status)
        st.caption(f"Looking at what it shows. {progress}. You can choose now and go on.")
    if chosen is None:
        return None
    exercise = exercises[chosen]
    if not exercise.variations:
        return exercise
    titles = {"": "As described", **{item.id: item.name for item in exercise.variations}}
    variation = st.selectbox(
        "Variation", list(titles), format_func=titles.__getitem__, key=f"variation_{clip.key}_{exercise.id}"
    )
    return get_exercise(f"{exercise.id}/{variation}") if variation else exercise


def describe_suggestion(suggestion: ClipSuggestion, names: dict[str, str]) -> str:
    """What the clip seems to show, with how sure that is.

    Parameters
    ----------
    names : id of each exercise → its name.
    """
    if not suggestion.usable:
        return suggestion.problem
    known = [(names[name], share) for name, share in suggestion.ranked if name in names and share >= 0.05]
    if not known:
        words = "It looks like none of the exercises known here; please choose."
    elif suggestion.sure:
        why = f": {', '.join(suggestion.reasons[:2])}" if suggestion.reasons else ""
        words = f"Suggested from the movement: {known[0][0]}, {known[0][1]:.0%} sure{why}."
    else:
        likely = ", ".join(f"{name} {share:.0%}" for name, share in known[:3])
        words = f"Not clear from the movement. It could be: {likely}. Please choose."
    return f"{suggestion.problem} {words}".strip()


def _describe_view(view: ViewHint, suggestion: ClipSuggestion | None) -> str:
    if view == "auto" and suggestion is not None and suggestion.view is not None:
        seen = wording.VIEW_WORDS[suggestion.view]  # type: ignore[index]  # a view's name
        return f"{wording.capitalise(seen)}, as it seems"
    return _VIEWS[view]


def _choose_client(clip: ReadyClip, session: SessionDraft) -> tuple[Client | None, str | None]:
    """Whose set it is, and the name, which is new where no client is given."""
    name = session.name
    if session.names is not None:
        chosen = st.selectbox(
            "Whose set is it?",
            [NOBODY, *session.names],
            index=None,
            placeholder=name or NOBODY,
            accept_new_options=True,
            key=f"whose_{clip.key}",
            help="To be chosen only where this clip shows somebody else than the others.",
        )
        name = clean_name(chosen) if chosen is not None else name
    if name is None:
        return None, None
    with Store.open() as store:
        client = store.find_client(name)
    return client, client.name if client is not None else name


def _find_plan(session: SessionDraft, client: Client | None, exercise: Exercise | None) -> tuple[int, Plan | None]:
    """Number of the set in the session, and the plan that holds on its day."""
    if exercise is None or client is None:
        return 1, None
    with Store.open() as store:
        stored = store.plan_of(client.id, exercise.id, on=session.day)
        number = store.next_set(client.id, exercise.id, session.day)
    return number + session.counted[client.name, exercise.id], stored.plan if stored is not None else None


def _ask_second_camera(clip: ReadyClip) -> tuple[str, str] | None:
    """Path and name of the clip of a second camera."""
    state, key = page_state(), clip.key
    box = st.expander("A second camera filmed this set too", on_change="rerun", key=f"second_box_{key}")
    if box.open:
        given = box.file_uploader(
            "Clip of the second camera",
            type=media_files.CLIP_TYPES,
            key=f"second_{key}",
            max_upload_size=media_files.UPLOAD_LIMIT_MB,
            help="Filmed at the same time from another place, such as the side; it need not begin at the same moment.",
        )
        if given is None:
            chosen_clips.remove_second(key)
        elif given.file_id != state.second_seen.get(key):
            chosen_clips.remove_second(key)
            try:
                state.second_clips[key] = str(uploads.save_clip(given)), given.name
                state.second_seen[key] = given.file_id
            except FormcheckError as error:
                box.error(layout.escape_markdown(str(error)))
    return state.second_clips.get(key)
