"""Track the benchmark's rendered sets and pack their landmarks and truth into benchmarks/recordings.

    python clips_demo/render.py --benchmark DIR          (needs the render extra; an hour or two)
    python benchmarks/record.py DIR

The packed recordings are committed: `benchmarks/accuracy.py` needs neither the clips nor the pose model.
"""

import argparse
from pathlib import Path

from cases import FOLDERS, pack


def main() -> None:
    """Pack every clip that has a truth file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="holds the folders tuning and reporting")
    folder = parser.parse_args().folder
    for part in ("tuning", "reporting"):
        FOLDERS[part].mkdir(parents=True, exist_ok=True)
        clips = [clip for clip in sorted((folder / part).glob("*.mp4")) if clip.with_suffix(".truth.json").exists()]
        for clip in clips:
            pack(clip, FOLDERS[part])
        size = sum(path.stat().st_size for path in FOLDERS[part].glob("*.npz"))
        print(f"{part}: {len(clips)} sets packed, {size / 1e6:.1f} MB in all")


if __name__ == "__main__":
    main()
