"""What is said of one clip before its review: exercise, camera, load, target reps, second camera."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

import streamlit as st

from formcheck.coaching.plan import MOST_KG, MOST_REPS, Plan, PlannedSet
from formcheck.core.errors import FormcheckError
from formcheck.core.model import ViewHint
from formcheck.exercises.registry import get_exercise, load_exercises, own_exercise_problems
from formcheck.exercises.schema import Exercise
from formcheck.jobs.background_tasks import FirstLook
from formcheck.jobs.listing import jobs_in_line
from formcheck.jobs.queue import JobRequest, JobStatus
from formcheck.report import wording
from formcheck.storage import Client, Store, media_files
from formcheck.storage.clients import LONGEST_NAME
from formcheck.storage.data_folder import default_store
from formcheck.web import layout, uploads
from formcheck.web.components.training_html import format_reps
from formcheck.web.review import chosen_clips
from formcheck.web.review.chosen_clips import ReadyClip
from formcheck.web.review.progress import progress_text
from formcheck.web.session_state import page_state

_VIEWS: dict[ViewHint, str] = {
    "auto": "Find out from the clip",
    "front": "From the front",
    "back": "From behind",
    "side": "From the side",
    "oblique": "At an angle",
}


NOBODY = wording.capital(wording.NO_CLIENT)


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
        return cls(name, day, client_names() if clips > 1 else None, counted)


def client_names() -> tuple[str, ...]:
    """All clients' names."""
    with Store.open(default_store()) as store:
        return tuple(client.name for client in store.list_clients())


def clean_name(chosen: str | None) -> str | None:
    """A client's name, chosen or typed, as it is kept; None for nobody."""
    name = " ".join(str(chosen or "").split())[:LONGEST_NAME]
    return None if name.casefold() in ("", NOBODY.casefold()) else name


def ask_set(clip: ReadyClip, status: JobStatus | None, session: SessionDraft) -> JobRequest | None:
    """Ask for what is to be known about a set; None as long as the exercise is open."""
    look = clip.look()
    exercise = _choose_exercise(clip, look, status)
    client, name = _choose_client(clip, session)
    view = st.selectbox(
        "Where did the camera stand?",
        list(_VIEWS),
        format_func=lambda item: _describe_view(item, look),
        key=f"view_{clip.key}",
        help=exercise.filming.advice if exercise else None,
    )
    number, plan = _find_plan(session, client, exercise)
    planned = plan.for_set(number) if plan is not None else None
    # A new default needs a new field: one that was drawn before keeps what it held.
    key = f"{clip.key}_{name}_{exercise.id if exercise else ''}_{number if plan else ''}"
    left, right = st.columns(2)
    load = left.number_input(
        "Load, kg", 0.0, MOST_KG, planned.load_kg if planned else None, step=0.5, key=f"load_{key}"
    )  # fmt: skip
    target = right.number_input(
        "Target reps", 1, MOST_REPS, planned.reps_low if planned else None, step=1, key=f"target_{key}"
    )  # fmt: skip
    if plan is not None:
        st.caption(describe_plan(number, planned, plan))
    second = _ask_second_camera(clip)
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
        second_path=second[0] if second else None,
        second_name=second[1] if second else None,
    )


def describe_plan(number: int, planned: PlannedSet | None, plan: Plan) -> str:
    """What the client's plan says of a set, for the caption under load and reps."""
    if planned is None:
        return f"Set {number}: beyond the {len(plan.sets)} sets planned."
    parts = [f"{format_reps(planned)} reps", wording.load_text(planned.load_kg)]
    if plan.tempo is not None:
        parts.append("tempo " + "-".join("X" if part is None else f"{part:g}" for part in plan.tempo))
    if plan.range_deg is not None:
        parts.append(f"range {plan.range_deg:g}°")
    return f"Set {number} of the plan: {', '.join(part for part in parts if part)}."


def _choose_exercise(clip: ReadyClip, look: FirstLook | None, status: JobStatus | None) -> Exercise | None:
    exercises = load_exercises()
    key = f"exercise_{clip.key}"
    known = clip.exercise or (look.ranked[0][0] if look is not None and look.sure else None)
    if known in exercises and st.session_state.get(key) is None:
        st.session_state[key] = known
    ranked = [name for name, _ in (look.ranked if look is not None else ()) if name in exercises]
    names = page_state().exercise_orders.setdefault(
        clip.key, [*ranked, *(name for name in exercises if name not in ranked)]
    )
    chosen = st.selectbox(
        "Exercise",
        names,
        index=None,
        format_func=lambda name: exercises[name].name,
        placeholder="Choose the exercise",
        key=key,
    )
    for problem in own_exercise_problems():
        st.warning(layout.escape_markdown(problem))
    if look is not None:
        st.caption(look_words(look, {name: item.name for name, item in exercises.items()}))
    elif status is not None and status.state == "failed":
        st.caption(layout.escape_markdown(status.problem or "What it shows could not be told; please choose."))
    elif status is not None:
        st.caption(f"Looking at what it shows. {progress_text(status)}. You can choose now and go on.")
    if chosen is None:
        return None
    exercise = exercises[chosen]
    if exercise.variations:
        titles = {"": "As described", **{item.id: item.name for item in exercise.variations}}
        variation = st.selectbox(
            "Variation", list(titles), format_func=titles.__getitem__, key=f"variation_{clip.key}_{exercise.id}"
        )
        exercise = get_exercise(f"{exercise.id}/{variation}") if variation else exercise
    return exercise


def look_words(look: FirstLook, names: dict[str, str]) -> str:
    """What the clip seems to show, with how sure that is."""
    return f"{look.problem} {_likeness(look, names) if look.usable else ''}".strip()


def _likeness(look: FirstLook, names: dict[str, str]) -> str:
    known = [(names[name], share) for name, share in look.ranked if name in names and share >= 0.05]
    if not known:
        return "It looks like none of the exercises known here; please choose."
    if look.sure:
        why = f": {', '.join(look.reasons[:2])}" if look.reasons else ""
        return f"Suggested from the movement: {known[0][0]}, {known[0][1]:.0%} sure{why}."
    told = ", ".join(f"{name} {share:.0%}" for name, share in known[:3])
    return f"Not clear from the movement. It could be: {told}. Please choose."


def _describe_view(view: ViewHint, look: FirstLook | None) -> str:
    if view == "auto" and look is not None and look.view is not None:
        return f"{wording.capital(wording.VIEW_WORDS[look.view])}, as it seems"  # type: ignore[index]  # a view's name
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
    with Store.open(default_store()) as store:
        client = store.find_client(name)
    return client, client.name if client is not None else name


def _find_plan(session: SessionDraft, client: Client | None, exercise: Exercise | None) -> tuple[int, Plan | None]:
    """Number of the set in the session, and the plan that holds on its day."""
    if exercise is None or client is None:
        return 1, None
    with Store.open(default_store()) as store:
        held = store.plan_of(client.id, exercise.id, on=session.day)
        number = store.next_set(client.id, exercise.id, session.day)
    number += session.counted[client.name, exercise.id]
    return number, held.plan if held is not None else None


def _ask_second_camera(clip: ReadyClip) -> tuple[str, str] | None:
    """Path and name of the clip of a second camera."""
    kept = page_state().second_clips
    box = st.expander("A second camera filmed this set too", on_change="rerun", key=f"second_box_{clip.key}")
    if not box.open:
        return kept.get(clip.key)
    with box:
        given = st.file_uploader(
            "Clip of the second camera",
            type=media_files.CLIP_TYPES,
            key=f"second_{clip.key}",
            max_upload_size=media_files.UPLOAD_LIMIT_MB,
            help="Filmed at the same time from another place, such as the side; it need not begin at the same moment.",
        )
        if given is None:
            chosen_clips.drop_second(clip.key)
        elif given.file_id != page_state().second_seen.get(clip.key):
            chosen_clips.drop_second(clip.key)
            try:
                path = uploads.save_clip(given)
                kept[clip.key], page_state().second_seen[clip.key] = (str(path), given.name), given.file_id
            except FormcheckError as error:
                st.error(layout.escape_markdown(str(error)))
    return kept.get(clip.key)
