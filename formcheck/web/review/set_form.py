"""A row of the sheet of clips: exercise, client and load; camera, target reps and second camera behind a button."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from formcheck.coaching.plan import MOST_KG, MOST_REPS, Plan, PlannedSet
from formcheck.core.errors import FormcheckError
from formcheck.core.model import ViewHint
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.jobs.background_tasks import ClipSuggestion
from formcheck.jobs.queue import JobRequest, jobs_in_line
from formcheck.report import wording
from formcheck.storage import Client, Store, media_files
from formcheck.storage.clients import LONGEST_NAME
from formcheck.web import layout, uploads
from formcheck.web.markup import render
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
_WIDTHS = [3.0, 5.4, 3.2, 2.8, 1.5, 1.5]
_HEADS = ("Clip", "It looks like", "Exercise", "Client", "Load, kg", "")
_LEAST_SHARE = 0.05
"""Likelier than this an exercise must be to be named."""
_CHIPS = 2
"""So many likely exercises are offered as buttons."""


@dataclass(slots=True)
class SessionDraft:
    """What the rows of a sheet share: a row takes over what the rows above it say."""

    name: str | None
    """The client of the row above: the name, of a new one too."""
    day: date
    names: tuple[str, ...]
    """The clients a row offers."""
    counted: Counter[tuple[str | None, str]]
    """How many sets of a client and an exercise are in line or were filled in above."""
    loads: dict[tuple[str | None, str], float | None] = field(default_factory=dict)
    """Client and exercise → the load of the last row of both."""

    @classmethod
    def begin(cls, name: str | None, day: date) -> "SessionDraft":
        """With the sets that are in line already."""
        line = [job.request for job in jobs_in_line() if job.request.session_on == day.isoformat()]
        counted = Counter((request.client, request.exercise) for request in line)
        return cls(name, day, list_client_names(), counted)


def list_client_names() -> tuple[str, ...]:
    """All clients' names."""
    with Store.open() as store:
        return tuple(client.name for client in store.list_clients())


def clean_name(chosen: str | None) -> str | None:
    """A client's name, chosen or typed, as it is stored; None for nobody."""
    name = " ".join(str(chosen or "").split())[:LONGEST_NAME]
    return None if name.casefold() in ("", NOBODY.casefold()) else name


def show_heads() -> None:
    """What stands over the columns of the sheet."""
    with st.container(key="fc_sheet_heads"):
        for column, words in zip(st.columns(_WIDTHS), _HEADS, strict=True):
            column.caption(words)


def ask_set(clip: ReadyClip, session: SessionDraft) -> JobRequest | None:
    """One row of the sheet: what is to be known about a set; None as long as the exercise is open."""
    suggestion = clip.suggestion
    with st.container(key=f"fc_clip_form_{clip.key}", gap=None):
        about, likely, which, whose, weight, more = st.columns(_WIDTHS, vertical_alignment="center")
        about.html(render("inbox", "clip", clip.name, clip.picture))
        box = more.popover("More", width="stretch")
        with which:
            exercise = _choose_exercise(clip, suggestion, box)
        with likely:
            _show_likely(clip, suggestion, exercise)
        with whose:
            client, name = _choose_client(clip, session)
        number, plan = _find_plan(session, client, exercise)
        planned = plan.for_set(number) if plan is not None else None
        # A new default needs a new field: one that was drawn before keeps what it held.
        key = f"{clip.key}_{name}_{exercise.id if exercise else ''}_{number if plan else ''}"
        above = session.loads.get((name, exercise.id if exercise else ""))
        with weight:
            load = _ask_load(f"load_{key}", planned, above)
        with box:
            view = st.selectbox(
                "Where did the camera stand?",
                list(_VIEWS),
                format_func=lambda item: _describe_view(item, suggestion),
                key=f"view_{clip.key}",
                help=exercise.filming.advice if exercise else None,
            )
            reps = planned.reps_low if planned and not planned.each_side else None
            target = st.number_input("Target reps", 1, MOST_REPS, reps, step=1, key=f"target_{key}")
            if plan is not None:
                st.caption(describe_plan(number, planned, plan))
            second_path, second_name = _ask_second_camera(clip) or (None, None)
            _offer_removal(clip)
    if exercise is None:
        return None
    session.counted[name, exercise.id] += 1
    session.loads[name, exercise.id] = load
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


def _ask_load(key: str, planned: PlannedSet | None, above: float | None) -> float | None:
    """The load: as planned, or as in the row above of the same client and exercise, unless another is typed."""
    first = planned.load_kg if planned else None
    taken = above if first is None else None
    given = st.number_input(
        "Load, kg",
        0.0,
        MOST_KG,
        first,
        step=0.5,
        key=key,
        placeholder="kg" if taken is None else f"{taken:g}",
        label_visibility="collapsed",
    )
    return taken if given is None else given


def _offer_removal(clip: ReadyClip) -> None:
    if clip.job is None:
        return
    st.button(
        "Remove this clip",
        key=f"remove_{clip.key}",
        help=f"Do not review {clip.name[:80]}, and do not keep it",
        on_click=chosen_clips.remove,
        args=(clip,),
    )


def describe_plan(number: int, planned: PlannedSet | None, plan: Plan) -> str:
    """What the client's plan says of a set, for the caption under load and reps."""
    if planned is None:
        return f"Set {number}: beyond the {len(plan.sets)} sets planned."
    each = " each side" if planned.each_side else ""
    parts = [f"{planned.count} reps{each}", wording.format_load(planned.load_kg)]
    if plan.tempo is not None:
        parts.append("tempo " + "-".join("X" if part is None else f"{part:g}" for part in plan.tempo))
    if plan.range_deg is not None:
        parts.append(f"range {plan.range_deg:g}°")
    return f"Set {number} of the plan: {', '.join(part for part in parts if part)}."


def _list_likely(clip: ReadyClip, suggestion: ClipSuggestion | None) -> list[str]:
    """Ids of the exercises the clip may show, the likeliest first."""
    exercises = load_exercises()
    return (
        [name for name, share in suggestion.ranked if name in exercises and share >= _LEAST_SHARE] if suggestion else []
    )


def _choose_exercise(clip: ReadyClip, suggestion: ClipSuggestion | None, box: DeltaGenerator) -> Exercise | None:
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
        label_visibility="collapsed",
    )
    if suggestion is not None:
        box.caption(describe_suggestion(suggestion, {name: item.name for name, item in exercises.items()}))
    if chosen is None:
        return None
    exercise = exercises[chosen]
    if not exercise.variations:
        return exercise
    titles = {"": "As described", **{item.id: item.name for item in exercise.variations}}
    variation = box.selectbox(
        "Variation", list(titles), format_func=titles.__getitem__, key=f"variation_{clip.key}_{exercise.id}"
    )
    return get_exercise(f"{exercise.id}/{variation}") if variation else exercise


def _show_likely(clip: ReadyClip, suggestion: ClipSuggestion | None, chosen: Exercise | None) -> None:
    """The two most likely exercises as buttons; before they are known how far the look is, or why they are not."""
    exercises, key = load_exercises(), f"exercise_{clip.key}"
    likely = _list_likely(clip, suggestion)[:_CHIPS]
    if suggestion is None and clip.job is not None:
        status = clip.job.status
        words = status.problem or "Not known: please choose."
        if status.state != "failed":
            words = f"Looking at the clip. {describe_progress(status)}"
        st.caption(layout.escape_markdown(words))
    elif suggestion is not None and not likely:
        st.caption(layout.escape_markdown(suggestion.problem or "None of the exercises known here: please choose."))
    with st.container(horizontal=True, gap="xsmall", key=f"fc_likely_{clip.key}"):
        for name in likely:
            taken = chosen is not None and chosen.id.partition("/")[0] == name
            st.button(
                exercises[name].name,
                key=f"likely_{clip.key}_{name}",
                type="primary" if taken else "secondary",
                on_click=st.session_state.__setitem__,
                args=(key, name),
                width="stretch",
                wrap=False,
            )


def describe_suggestion(suggestion: ClipSuggestion, names: dict[str, str]) -> str:
    """What the clip seems to show, with how sure that is.

    Parameters
    ----------
    names : id of each exercise → its name.
    """
    if not suggestion.usable:
        return suggestion.problem
    known = [(names[name], share) for name, share in suggestion.ranked if name in names and share >= _LEAST_SHARE]
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
    """Whose set it is, as in the row above unless another is chosen, and the name, which may be a new one."""
    # One that came through a watched folder is of the client who was named there.
    known = clip.job.request.client if clip.job is not None else None
    names = list(dict.fromkeys([NOBODY, *session.names, *([known] if known else [])]))
    chosen = st.selectbox(
        "Client",
        names,
        index=names.index(known) if known else None,
        placeholder=session.name or NOBODY,
        accept_new_options=True,
        key=f"whose_{clip.key}",
        label_visibility="collapsed",
    )
    if chosen is not None:
        session.name = clean_name(chosen)
    if session.name is None:
        return None, None
    with Store.open() as store:
        client = store.find_client(session.name)
    return client, client.name if client is not None else session.name


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
