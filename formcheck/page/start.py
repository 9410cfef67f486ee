"""First step of a review: the clip, the exercise, the set, the cautions."""

from pathlib import Path

import streamlit as st

from formcheck.errors import FormcheckError
from formcheck.exercises.registry import cautions, get_exercise, load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.model import ViewHint
from formcheck.page import frame, pieces, shelf
from formcheck.page.jobs import JobRequest, start_job
from formcheck.page.state import page_state, show_job
from formcheck.store.home import data_home

UPLOAD, SHIPPED = "My own clip", "A shipped example"
_VIEWS: dict[ViewHint, str] = {
    "auto": "Find out from the clip",
    "front": "From the front",
    "back": "From behind",
    "side": "From the side",
    "oblique": "At an angle",
}


def show() -> None:
    """Let the visitor choose and start."""
    st.html(
        '<header class="fc-hero"><h1>How did the set go?</h1><p>Choose the clip of one set. Every rep is measured, '
        "each number with its margin, on this machine; nothing leaves it.</p></header>"
    )
    left, right = st.columns(2, gap="large")
    with left:
        frame.section("The clip")
        chosen = _choose_clip()
    with right:
        frame.section("The set")
        exercise, view, load, target = _choose_set(chosen[2] if chosen else None)
    _start_box(chosen, exercise, view, load, target)


def _choose_clip() -> tuple[Path, str, str | None] | None:
    """Path, name to show and exercise the clip is known to hold."""
    shipped = shelf.shipped_clips()
    where = UPLOAD
    if shipped:
        where = st.segmented_control(
            "Where is the clip?", [UPLOAD, SHIPPED], default=UPLOAD, required=True, key="clip_source"
        )
    if where == SHIPPED:
        clip = st.selectbox("Example", shipped, format_func=lambda item: item.title, key="shipped_clip")
        st.caption("The lifters in the examples are invented and rendered; nobody was filmed.")
        with st.container(key="fc_example"):
            st.video(str(clip.path), muted=True, alt=f"The example clip {clip.title}")
        return clip.path, clip.path.name, clip.exercise
    return _upload()


def _upload() -> tuple[Path, str, str | None] | None:
    state = page_state()
    given = st.file_uploader(
        "Clip of one set",
        type=shelf.CLIP_TYPES,
        key="upload",
        max_upload_size=shelf.UPLOAD_LIMIT_MB,
        help="One person, the whole body in the picture, the phone standing still.",
    )
    if given is not None and given.file_id != state.upload_seen:
        state.upload_seen, state.kept_clip, state.problem = given.file_id, None, None
        state.kept_upload = given.name
        try:
            path = shelf.keep_upload(data_home(), given)
            shelf.check_clip(path, given.name)
            state.kept_clip = path.name
        except FormcheckError as error:
            state.problem = str(error)
        except OSError as error:
            state.problem = f"The clip could not be written to disk: {error.strerror or error}."
    if state.problem:
        st.error(frame.plain(state.problem))
        return None
    if state.kept_clip is None or state.kept_upload is None:
        st.caption("Phone upright and level, chest height, 3 to 4 metres away, both hands in the picture at the top.")
        return None
    st.success(f"{frame.plain(state.kept_upload)} is ready.", icon=":material/check:")
    return data_home() / "clips" / state.kept_clip, state.kept_upload, None


def _choose_set(known: str | None) -> tuple[Exercise, ViewHint, float | None, int | None]:
    exercises = list(load_exercises().values())
    default = next((place for place, item in enumerate(exercises) if item.id == known), 0)
    exercise = st.selectbox(
        "Exercise", exercises, index=default, format_func=lambda item: item.name, key=f"exercise_{known or 'own'}"
    )
    if exercise.variations:
        names = {"": "As described", **{item.id: item.name for item in exercise.variations}}
        chosen = st.selectbox("Variation", list(names), format_func=names.__getitem__, key=f"variation_{exercise.id}")
        exercise = get_exercise(f"{exercise.id}/{chosen}") if chosen else exercise
    st.caption(exercise.summary)
    view = st.selectbox(
        "Where did the camera stand?",
        list(_VIEWS),
        format_func=_VIEWS.__getitem__,
        key="view",
        help=exercise.filming.advice,
    )
    load_column, target_column = st.columns(2)
    load = load_column.number_input("Load, kg", min_value=0.0, max_value=500.0, value=None, step=0.5, key="load")
    target = target_column.number_input("Target reps", min_value=1, max_value=100, value=None, step=1, key="target")
    return exercise, view, load, int(target) if target is not None else None


def _start_box(
    chosen: tuple[Path, str, str | None] | None,
    exercise: Exercise,
    view: ViewHint,
    load: float | None,
    target: int | None,
) -> None:
    st.html(pieces.cautions([cautions()[key].text for key in exercise.cautions]))
    read_before = _read_mark().exists()
    agreed = read_before or st.checkbox("I have read this", key="cautions_read")
    if st.button("Review the set", type="primary", disabled=not (chosen and agreed), key="start", width="stretch"):
        if not read_before:
            _read_mark().touch()
        if chosen is not None:
            path, name, _ = chosen
            request = JobRequest(str(path), name, exercise.id, view, load, target)
            show_job(start_job(data_home(), request))
            st.rerun()
    if chosen is None:
        st.caption("Choose a clip first.")
    elif not agreed:
        st.caption("Please confirm that you have read the cautions.")


def _read_mark() -> Path:
    return data_home() / "cautions-read"
