"""Landmark recordings kept from earlier looks at clips, found again without the clip."""

from pathlib import Path

from formcheck.capture.recording import load_recording
from formcheck.errors import RecordingError
from formcheck.model import LandmarkRecording


def recording_files(clip_sha256: str, cache_dir: str | Path) -> list[Path]:
    """All recordings kept of a clip, whatever pose model and tracker made them, the newest first."""
    if not (len(clip_sha256) == 64 and set(clip_sha256) <= set("0123456789abcdef")):
        return []
    found = Path(cache_dir).glob(f"{clip_sha256[:32]}-*.npz")
    return sorted(found, key=lambda path: (path.stat().st_mtime, path.name), reverse=True)


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
    raise RecordingError("The landmarks of this clip are not kept any more; review the clip again.")
