"""Track the clips of clips_demo and keep their landmarks in tools/benchmarks/recordings/shipped.

    python tools/benchmarks/record.py        after each change of the tracker

What the pages show of these clips is made from the committed landmarks.
"""

import argparse
import tempfile

from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.recording import save_recording
from formcheck.storage.recording_cache import cached_recording
from shipped_clips import LANDMARKS, list_clips


def main() -> None:
    """Track every clip."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    for clip in list_clips():
        with tempfile.TemporaryDirectory() as cache:
            save_recording(cached_recording(clip, MediaPipeEstimator, cache), LANDMARKS / f"{clip.stem}.npz")


if __name__ == "__main__":
    main()
