"""What is drawn for a stored review, in the order in which it is wanted: what plays, the stills and the report, a film.

Each file appears whole or not at all, so whoever was stopped in the middle can begin again.
"""

from pathlib import Path

from formcheck.core.atomic_write import replace_file
from formcheck.core.model import LandmarkRecording, ProgressReport
from formcheck.services.review_outputs import ReviewOutputs
from formcheck.storage.data_folder import SLOWLY, Artifacts


def put_in_clip(out: Artifacts, clip: Path, recording: LandmarkRecording) -> None:
    """Put in the landmarks, and a mark when browsers play the clip as it is (ClipError, RecordingError, OSError).

    A damaged clip is always shown as a film, which has only what could be read.
    """
    from formcheck.pose.recording import save_recording
    from formcheck.video.browser_playback import rate_playback

    out.folder.mkdir(parents=True, exist_ok=True)
    save_recording(recording, out.recording)
    playback = "not" if recording.damage is not None else rate_playback(clip)
    if playback != "not":
        replace_file(out.plays_mark, SLOWLY if playback == "slowly" else "")


def make_film(out: Artifacts, clip: Path, rate: float, on_progress: ProgressReport | None = None) -> None:
    """Make of the clip a film that every browser plays (ClipError, OutputError).

    rate : mean pictures a second of the clip.
    """
    from formcheck.video.encoder import write_film

    out.folder.mkdir(parents=True, exist_ok=True)
    write_film(clip, out.film, rate=rate, on_progress=on_progress)


def draw_all(out: Artifacts, made: ReviewOutputs, clip: Path) -> None:
    """All that a review has to have before it is opened: nothing is left to be waited for (as the other functions)."""
    put_in_clip(out, clip, made.recording)
    made.write_drawn(out)
    out.write_clip_names([str(clip)])
    if out.film_wanted:
        make_film(out, clip, made.recording.clip.frame_rate)
