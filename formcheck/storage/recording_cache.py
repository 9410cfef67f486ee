"""The cache of landmark recordings: a clip is tracked once, and its recording found again, with or without the clip."""

import logging
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from formcheck.core.atomic_write import remove_stale_parts
from formcheck.core.errors import FILE, ClipError, RecordingError
from formcheck.core.model import LandmarkRecording, PoseModelInfo, ProgressReport
from formcheck.pose.estimator import EstimatorFactory
from formcheck.pose.recording import load_recording, save_recording
from formcheck.pose.tracking import TRACKER_VERSION
from formcheck.sandbox.sandboxed_tracking import PartsReport, track_clip
from formcheck.video.clip_file import ClipLimits, check_file, check_unchanged, compute_clip_sha256, make_readable_name

_log = logging.getLogger(__name__)
EVERY_PICTURE = "-every"
"""End of the name of a recording of all pictures."""
CURVES_ENDING = ".curves"
"""Of the files of `formcheck.storage.curve_cache`, which lie beside the recordings."""


def recording_files(clip_sha256: str, cache_dir: str | Path, ending: str = ".npz") -> list[Path]:
    """All recordings of a clip, whatever pose model and tracker made them, the newest first; or its curves."""
    if not is_checksum(clip_sha256):
        return []
    found = (Path(entry.path) for entry in entries_of(cache_dir, f"{clip_sha256[:32]}-", ending))
    return sorted(found, key=lambda path: (path.stat().st_mtime, path.name), reverse=True)


def files_of_clip(clip_sha256: str, cache_dir: str | Path) -> list[Path]:
    """Everything cached of a clip: its recordings, and the curves read from them."""
    return [path for ending in (".npz", CURVES_ENDING) for path in recording_files(clip_sha256, cache_dir, ending)]


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


def find_recording(clip_sha256: str, model: PoseModelInfo, cache_dir: str | Path) -> LandmarkRecording:
    """The landmarks of a clip as this pose model saw it, in as many pictures.

    Raises RecordingError when they are no longer stored or cannot be read: the clip has to be reviewed again.
    """
    trouble = RecordingError("The body points found in this clip are no longer kept; review the clip again.")
    for path in recording_files(clip_sha256, cache_dir):
        if path.name[33:49] == model.sha256[:16] and path.stem.endswith(EVERY_PICTURE) == model.every_picture:
            try:
                recording = load_recording(path)
            except RecordingError as error:
                trouble = error
                continue
            if recording.clip.sha256 == clip_sha256 and is_same_model(recording.pose_model, model):
                return recording
    raise trouble


def cached_recording(
    clip: str | Path,
    estimator_factory: EstimatorFactory,
    cache_dir: str | Path,
    *,
    on_progress: ProgressReport | None = None,
    on_parts: PartsReport | None = None,
    limits: ClipLimits | None = None,
    processes: int | None = None,
    every_picture: bool = False,
) -> LandmarkRecording:
    """The clip's recording, from the cache when the same clip and pose model were tracked before.

    Parameters
    ----------
    clip : the clip's file.
    estimator_factory : makes the pose model; it is entered only when the clip has to be tracked.
    cache_dir : folder of recordings, made when needed; beside them lie only the curves read from them.
    on_progress, on_parts, limits, processes, every_picture : as for
        `formcheck.sandbox.sandboxed_tracking.track_clip`; the recording is the same to the bit from any number of
        processes.

    A clip that changes while it is tracked is refused, and nothing is stored of it. A damaged file in the cache is made
    anew. A cache that cannot be written costs time, never the result. Raises
    ClipError and PoseModelError.
    """
    clip = Path(clip)
    limits = limits or ClipLimits()
    check_file(clip, limits)
    sha256 = compute_clip_sha256(clip)
    model = replace(estimator_factory().info, every_picture=every_picture)
    path, recording = cache_path(Path(cache_dir), sha256, model, TRACKER_VERSION), None
    with suppress(RecordingError):
        recording = load_recording(path)
    if recording is not None and recording.clip.sha256 == sha256 and is_same_model(recording.pose_model, model):
        if recording.clip.duration_s > limits.max_duration_s + 1:
            raise ClipError(
                f"The clip {FILE} is too long: the limit is {limits.max_duration_s / 60:g} minutes.", path=clip
            )
        if on_progress is not None:
            on_progress(recording.clip.duration_s, recording.clip.duration_s)
        return replace(recording, clip=replace(recording.clip, name=make_readable_name(clip)))
    recording = track_clip(
        clip,
        estimator_factory,
        processes=processes,
        on_progress=on_progress,
        on_parts=on_parts,
        limits=limits,
        clip_sha256=sha256,
        every_picture=every_picture,
    )
    check_unchanged(clip, sha256)
    try:
        save_recording(recording, path)
        remove_stale_parts(path.parent)
    except RecordingError as error:
        _log.warning("%s The clip will be tracked again next time.", error)
    return recording


def cache_path(folder: Path, sha256: str, model: PoseModelInfo, version: int) -> Path:
    """Where the recording of a clip by a pose model and a version of the tracker is cached."""
    return folder / f"{sha256[:32]}-{model.sha256[:16]}-{version}{EVERY_PICTURE if model.every_picture else ''}.npz"


def is_same_model(one: PoseModelInfo, other: PoseModelInfo) -> bool:
    """Whether two recordings of a clip were made alike; the model's name does not count."""
    return (one.sha256, one.every_picture) == (other.sha256, other.every_picture)
