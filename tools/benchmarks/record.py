"""Track the benchmark's rendered sets and pack their landmarks and truth into tools/benchmarks/recordings.

    python tools/render/render.py --benchmark DIR          (needs the render extra; an hour or two)
    python tools/benchmarks/record.py DIR

    python tools/render/render_shelf.py --out DIR          (needs the render extra; a set takes half a minute)
    python tools/benchmarks/record.py --newer DIR              (into tools/benchmarks/recordings/newer)

    python tools/benchmarks/record.py --shipped                (clips_demo, after each change of the tracker)

The packed recordings are committed: `tools/benchmarks/accuracy.py` needs neither the clips nor the pose model.
"""

import argparse
from pathlib import Path

from cases import FOLDERS, HERE, SHIPPED, pack, tracked
from formcheck.pose.recording import save_recording

NEWER = HERE / "recordings" / "newer"
"""Sets of the newer exercises. In no part of the benchmark, so that no table changes with them."""


def main() -> None:
    """Pack every clip that has a truth file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, help="folder of the sets: tuning and reporting, or newer")
    parser.add_argument("--newer", action="store_true", help="sets of the newer exercises")
    parser.add_argument("--shipped", action="store_true", help="the clips of clips_demo, which stay where they are")
    options = parser.parse_args()
    if options.shipped:
        for clip in sorted(FOLDERS["shipped"].glob("*.mp4")):
            save_recording(tracked(clip), SHIPPED / clip.with_suffix(".npz").name)
        return
    if options.folder is None:
        parser.error("the folder with the rendered sets is missing")
    if options.newer:
        pack_all(options.folder, NEWER)
        return
    for part in ("tuning", "reporting"):
        pack_all(options.folder / part, FOLDERS[part])


def pack_all(films: Path, folder: Path) -> None:
    """Pack the clips of one folder into another."""
    folder.mkdir(parents=True, exist_ok=True)
    clips = [clip for clip in sorted(films.glob("*.mp4")) if clip.with_suffix(".truth.json").exists()]
    for clip in clips:
        pack(clip, folder)
    size = sum(path.stat().st_size for path in folder.glob("*.npz"))
    print(f"{folder.name}: {len(clips)} sets packed, {size / 1e6:.1f} MB in all")


if __name__ == "__main__":
    main()
