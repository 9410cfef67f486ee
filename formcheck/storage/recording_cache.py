"""Landmark recordings kept from earlier looks at clips, and what was read from them, found again without the clip."""

import os
from collections.abc import Iterator
from pathlib import Path

from formcheck.core.errors import RecordingError
from formcheck.core.model import LandmarkRecording
from formcheck.pose.recording import load_recording

CURVES_ENDING = ".curves"
"""Of the files of `formcheck.storage.curve_cache`, which lie beside the recordings."""


def recording_files(clip_sha256: str, cache_dir: str | Path) -> list[Path]:
    """All recordings kept of a clip, whatever pose model and tracker made them, the newest first."""
    if not is_checksum(clip_sha256):
        return []
    found = (Path(entry.path) for entry in entries_of(cache_dir, f"{clip_sha256[:32]}-", ".npz"))
    return sorted(found, key=lambda path: (path.stat().st_mtime, path.name), reverse=True)


def files_of_clip(clip_sha256: str, cache_dir: str | Path) -> list[Path]:
    """Everything kept of a clip: its recordings, and the curves read from them."""
    if not is_checksum(clip_sha256):
        return []
    return [
        *recording_files(clip_sha256, cache_dir),
        *sorted(Path(entry.path) for entry in entries_of(cache_dir, f"{clip_sha256[:32]}-", CURVES_ENDING)),
    ]


def entries_of(folder: str | Path, beginning: str, ending: str) -> Iterator["os.DirEntry[str]"]:
    """What lies in a folder under such names, one after the other, however many there are; nothing where it cannot be
    read."""
    try:
        entries = os.scandir(folder)
    except OSError:
        return
    with entries:
        yield from (entry for entry in entries if entry.name.startswith(beginning) and entry.name.endswith(ending))


def is_checksum(text: str) -> bool:
    """Whether a text is a SHA-256 as we write it: of any other, no path is ever made."""
    return len(text) == 64 and set(text) <= set("0123456789abcdef")


def kept_recording(clip_sha256: str, pose_model_sha256: str, cache_dir: str | Path) -> LandmarkRecording:
    """The landmarks of a clip as this pose model saw it.

    Raises RecordingError when they are no longer kept or cannot be read: the clip has to be reviewed again.
    """
    trouble: RecordingError | None = None
    for path in recording_files(clip_sha256, cache_dir):
        if path.name[33:49] != pose_model_sha256[:16]:
            continue
        try:
            recording = load_recording(path)
        except RecordingError as error:
            trouble = error
            continue
        if recording.clip.sha256 == clip_sha256 and recording.pose_model.sha256 == pose_model_sha256:
            return recording
    if trouble is not None:
        raise trouble
    raise RecordingError("The body points found in this clip are not kept any more; review the clip again.")
