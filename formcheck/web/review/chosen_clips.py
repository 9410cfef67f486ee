"""The clips waiting to be reviewed: stored with a suggested exercise each, so that they outlive the visit."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import streamlit as st
from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
from streamlit.runtime.scriptrunner import get_script_run_ctx
from streamlit.runtime.uploaded_file_manager import UploadedFile

from formcheck.core.errors import FormcheckError
from formcheck.jobs import background_tasks, queue
from formcheck.jobs.background_tasks import ClipSuggestion
from formcheck.jobs.queue import Job, JobRequest, newest_jobs, start_job
from formcheck.services.delete import delete_upload
from formcheck.services.thumbnail import read_picture
from formcheck.storage import Store, media_files
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import layout, uploads
from formcheck.web.session_state import page_state


@dataclass(frozen=True, slots=True)
class ReadyClip:
    """A clip that can be reviewed."""

    key: str
    path: Path
    name: str
    """As the user knows it; only ever shown escaped."""
    job: Job | None = None
    """The job that finds out what the clip shows; None for a shipped example."""
    exercise: str | None = None
    """Known already, as of a shipped example or of a set filmed on the page."""

    @property
    def picture(self) -> str:
        """A small picture as a data address, once the clip was looked at; else empty."""
        return read_picture(DataFolder(data_home()).upload_picture(self.path.name))

    @property
    def suggestion(self) -> ClipSuggestion | None:
        """What the clip seems to show, once its job is over."""
        return background_tasks.read_suggestion(self.job.result) if self.job else None


def ask_clips() -> None:
    """Show the field for clips, store what is new, and start to find out what each shows."""
    state = page_state()
    given = st.file_uploader(
        "Drop your clips here, one for each set",
        type=media_files.CLIP_TYPES,
        key=f"upload_{state.upload_round}" if state.upload_round else "upload",
        max_upload_size=media_files.UPLOAD_LIMIT_MB,
        accept_multiple_files=True,
        help="One person, the whole body in the picture, the phone standing still. Several sets at once are fine.",
    )
    new = [item for item in given if item.file_id not in state.uploads_seen]
    if new:
        state.problems.clear()
    for item in new:
        state.uploads_seen.add(item.file_id)
        try:
            add_clip(uploads.save_clip(item), item.name)
        except FormcheckError as error:
            state.problems.append(str(error))
        except OSError as error:
            state.problems.append(f"{item.name} could not be written to disk: {error.strerror or error}.")
        _free_memory(item)
    for problem in state.problems:
        st.error(layout.escape_markdown(problem))


def _free_memory(item: UploadedFile) -> None:
    """Free the memory an upload takes, which would else be held as long as its field shows it."""
    context = get_script_run_ctx()
    if context is not None and isinstance(context.uploaded_file_mgr, MemoryUploadedFileManager):
        context.uploaded_file_mgr.remove_file(context.session_id, item.file_id)
    item.close()


def add_clip(path: Path, name: str, exercise: str = "") -> None:
    """Put a stored clip among those to be reviewed, of an exercise that is known already or of one to be found out; one
    that was put away comes back."""
    queue.put_away([start_job(JobRequest(str(path), name, exercise, "auto", kind="look"))], away=False)


def list_ready_clips() -> list[ReadyClip]:
    """The clips to be reviewed, in the order they were added."""
    found = {}
    for job in reversed(newest_jobs(limit=None)):
        path = Path(job.request.clip_path)
        if job.request.kind == "look" and not job.put_away and path.is_file():
            found[path.name] = ReadyClip(job.name, path, job.request.clip_name, job, job.request.exercise or None)
    return list(found.values())


def put_away(clips: Sequence[ReadyClip]) -> None:
    """Take clips from those to be reviewed; the files stay, for reviews of them."""
    queue.put_away([clip.job.name for clip in clips if clip.job is not None])


def remove(clip: ReadyClip) -> None:
    """Take a clip from those to be reviewed, and from the disk where nothing else needs it; its second camera's too."""
    put_away([clip])
    remove_second(clip.key)
    _delete(clip.path)


def remove_second(key: str) -> None:
    """Forget the second camera's clip of a clip to be reviewed, if it has one."""
    state = page_state()
    state.second_seen.pop(key, None)
    if second := state.second_clips.pop(key, None):
        _delete(Path(second[0]))


def _delete(clip: Path) -> None:
    try:
        with Store.open() as store:
            delete_upload(store, clip, data_home())
    except FormcheckError as error:
        page_state().problems.append(str(error))
