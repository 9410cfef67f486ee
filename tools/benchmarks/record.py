"""Track the clips of clips_demo and keep their landmarks in tools/benchmarks/recordings/shipped.

    python tools/benchmarks/record.py --shipped        after each change of the tracker

What the pages show of these clips is made from the committed landmarks.
"""

import argparse

from cases import FOLDERS, SHIPPED, tracked
from formcheck.pose.recording import save_recording


def main() -> None:
    """Track every clip."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipped", action="store_true", required=True, help="the clips of clips_demo")
    parser.parse_args()
    for clip in sorted(FOLDERS["shipped"].glob("*.mp4")):
        save_recording(tracked(clip), SHIPPED / clip.with_suffix(".npz").name)


if __name__ == "__main__":
    main()
