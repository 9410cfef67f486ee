"""The clips of clips_demo and the landmarks that are committed of them, from which the pages show what they show.

    python tools/benchmarks/record.py        tracks the clips anew: after each change of the tracker

The pose model rounds otherwise on another processor, so that what is printed of these clips would differ.
"""

import argparse
import json
import tempfile
from pathlib import Path

from formcheck.core.model import LandmarkRecording
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.recording import load_recording, save_recording
from formcheck.storage.recording_cache import cached_recording

CLIPS = Path(__file__).parents[2] / "clips_demo"
LANDMARKS = Path(__file__).parent / "recordings" / "shipped"


def list_clips() -> list[Path]:
    """The clips in the order of their names."""
    return sorted(CLIPS.glob("*.mp4"))


def read_exercise(clip: Path) -> str:
    """The id of the exercise that a clip shows, from its truth file."""
    return str(json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))["exercise"])


def load_landmarks(clip: Path) -> LandmarkRecording:
    """The committed landmarks of a clip."""
    return load_recording(LANDMARKS / f"{clip.stem}.npz")


def main() -> None:
    """Track every clip."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    for clip in list_clips():
        with tempfile.TemporaryDirectory() as cache:
            save_recording(cached_recording(clip, MediaPipeEstimator, cache), LANDMARKS / f"{clip.stem}.npz")


if __name__ == "__main__":
    main()
