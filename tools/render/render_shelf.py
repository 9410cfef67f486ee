"""Render sets of the shelf's newer exercises with their truth, to try and to tune the measuring on; not shipped.

    python tools/render/render_shelf.py --out FOLDER                  every set of the list
    python tools/render/render_shelf.py --out FOLDER --only WORD ...  those whose name holds one of the words
    python tools/render/render_shelf.py --list

Needs the `render` extra, as render.py does. `tools/benchmarks/shelf.py FOLDER` compares reviews of them with the truth.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

import numpy as np

from body import joints_of, make_body
from furniture import ShelfStudio
from motion import frame_times
from posture import pose
from render import _extremes, _write, fit, truth_of
from shelf_course import ShelfCourse
from shelf_specs import SHELF
from shelf_truth import signals_of
from specs import ClipSpec
from truth import angles_of, rep_truth


def render(spec: ClipSpec, folder: Path, *, truth_only: bool = False) -> None:
    """Write ``<name>.mp4`` and ``<name>.truth.json``, or the truth alone."""
    body = make_body(spec.body)
    course = ShelfCourse(spec.plan)
    t = frame_times(course.duration, spec.fps, phone_like=spec.phone_like, seed=spec.plan.seed)
    poses = [pose(body, posture) for posture in course.postures(t)]
    joints = [joints_of(body, posed) for posed, _ in poses]
    both = list(zip(joints, poses, strict=True))
    reach = np.array([np.vstack([*j.values(), *_extremes(body, p, h)]) for j, (p, h) in both])
    camera = fit(spec.camera, reach.reshape(-1, 3))
    columns = [angles_of(j) | signals_of(body, p, j, h) for j, (p, h) in both]
    frames = {"t": [round(float(x), 5) for x in t]}
    frames |= {name: [round(c[name], 3) for c in columns] for name in columns[0]}
    truth = truth_of(spec, camera, rep_truth(course.reps, frames), frames)
    folder.mkdir(parents=True, exist_ok=True)
    began = time.perf_counter()
    if not truth_only:
        path = folder / f"{spec.name}.mp4"
        part = path.with_suffix(".part.mp4")
        studio = ShelfStudio(body, spec.look, camera, spec.room, course)
        pictures = (studio.draw(posed, hands) for posed, hands in poses)
        _write(pictures, t, spec.fps, camera, part, quality=25, preset="veryfast")
        studio.close()
        part.replace(path)
    (folder / f"{spec.name}.truth.json").write_text(json.dumps(truth, separators=(",", ":")) + "\n")
    print(f"{spec.name}: {len(t)} frames, {1000 * (time.perf_counter() - began) / len(t):.0f} ms a frame", flush=True)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Render sets of the shelf's newer exercises with their truth.")
    parser.add_argument("--only", nargs="+", metavar="WORD", default=[""], help="sets whose name holds one of these")
    parser.add_argument("--out", type=Path, help="folder to write to")
    parser.add_argument("--truth", action="store_true", help="only write the truth of sets already there again")
    parser.add_argument("--list", action="store_true", help="only print the names")
    options = parser.parse_args()
    if not options.list and options.out is None:
        parser.error("give --out FOLDER")
    # Clean sets first, so that a run cut short has something of every exercise.
    for spec in sorted(SHELF, key=lambda item: not item.name.endswith("clean")):
        if not any(word in spec.name for word in options.only):
            continue
        if options.list:
            print(spec.name)
        elif options.truth == (options.out / f"{spec.name}.truth.json").exists():
            render(spec, options.out, truth_only=options.truth)


if __name__ == "__main__":
    main()
