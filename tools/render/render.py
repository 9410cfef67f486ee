"""Render the demonstration clips and their truth files.

    python tools/render/render.py                      all clips of the set list, into clips_demo
    python tools/render/render.py --only NAME ...      some of them
    python tools/render/render.py --random 8 --seed 1 --out DIR   random sets for tuning and checking, not for shipping
    python tools/render/render.py --benchmark DIR [--part tuning]  the sets of the accuracy benchmark, a folder a part
    python tools/render/render.py --breakdown 24 --out DIR        ten reps each, form breaking down from a known one

Needs the `render` extra (anny, pyvista); formcheck itself needs neither.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

import av
import numpy as np

from benchmark_specs import benchmark_sets
from body import Array, RestBody, joints_of, make_body
from breakdown_specs import breakdown_specs
from company import Company
from motion import BENCH_TOP, Course, frame_times
from no_exercise_specs import Film, extra_sets, film_of
from posture import pose
from random_specs import random_specs
from scene import Camera, Studio, picture_points, rail_position
from specs import CLIPS, ClipSpec
from spoil import Spoil, spoiled
from truth import angles_of, rep_truth
from walking import IDLE_SECONDS, idle

DEMO = Path(__file__).resolve().parents[2] / "clips_demo"

LIMIT_BYTES = 790_000
TICK = Fraction(1, 90000)


@dataclass(frozen=True)
class Trouble:
    """What makes a set of the benchmark harder than a demonstration clip."""

    spoil: Spoil = field(default_factory=Spoil)
    company: Company = field(default_factory=Company)
    idle: str | None = None
    """What the lifter does instead of the exercise."""
    film: Callable[[RestBody], Film] | None = None
    """Makes the whole movement, where it is not the plan's alone."""
    seated: bool = False


def render(spec: ClipSpec, folder: Path, *, joints_px: bool = False, trouble: Trouble | None = None) -> None:
    """Write ``<name>.mp4`` and ``<name>.truth.json``, with the joints' places in room and picture when asked."""
    body = make_body(spec.body)
    in_view: list[bool] | None = None
    if trouble is not None and trouble.film is not None:
        film = trouble.film(body)
        t, poses, times, in_view = film.t, film.poses, film.reps, film.in_view
    elif trouble is not None and trouble.idle is not None:
        t = frame_times(IDLE_SECONDS, spec.fps, phone_like=spec.phone_like, seed=spec.plan.seed)
        poses, times = list(idle(body, trouble.idle, t, spec.camera.yaw)), []
    else:
        course = Course(spec.plan, body)
        t = frame_times(course.duration, spec.fps, phone_like=spec.phone_like, seed=spec.plan.seed)
        poses, times = [pose(body, posture) for posture in course.postures(t)], course.reps
    joints = [joints_of(body, posed) for posed, _ in poses]
    reach = np.array(
        [np.vstack([*j.values(), *_extremes(body, p, h)]) for j, (p, h) in zip(joints, poses, strict=True)]
    )
    camera = fit(spec.camera, (reach if in_view is None else reach[np.array(in_view)]).reshape(-1, 3))
    columns = [angles_of(j) for j in joints]
    frames = {"t": [round(float(x), 5) for x in t]}
    frames |= {name: [round(c[name], 2) for c in columns] for name in columns[0]}
    truth = truth_of(spec, camera, rep_truth(times, frames) if times else [], frames)
    if joints_px:
        truth["joints_px"] = {
            name: np.round(picture_points(camera, np.array([j[name] for j in joints])), 1).tolist()
            for name in joints[0]
        }
        truth["joints_m"] = {name: np.round([j[name] for j in joints], 4).tolist() for name in joints[0]}
    if trouble is not None:
        company = trouble.company
        truth["no_exercise"] = trouble.idle
        truth["trouble"] = {
            "spoil": asdict(trouble.spoil),
            "person": company.person,
            "mirror": company.mirror,
            "before": company.before,
        }
    trouble = trouble or Trouble()
    pressing = spec.plan.exercise == "guided-bar-press" and trouble.idle is None
    rails = rail_position([hands for _, hands in poses[::20]]) if pressing else None
    bench = BENCH_TOP if pressing or trouble.seated else None
    studio = Studio(body, spec.look, camera, spec.room, bench=bench, rail_y=rails, company=trouble.company)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{spec.name}.mp4"
    began = time.perf_counter()
    drawn = (studio.draw(posed, hands, float(when)) for when, (posed, hands) in zip(t, poses, strict=True))
    if "trouble" in truth:
        pictures = spoiled(drawn, trouble.spoil, spec.plan.seed)
        _write(pictures, t, spec.fps, camera, path, quality=trouble.spoil.crf, preset="veryfast")
    else:
        encode(drawn, t, spec.fps, camera, path)
    studio.close()
    (folder / f"{spec.name}.truth.json").write_text(json.dumps(truth, separators=(",", ":")) + "\n")
    spent = 1000 * (time.perf_counter() - began) / len(t)
    size = path.stat().st_size / 1000
    print(f"{spec.name}: {len(t)} frames, {len(times)} reps, {size:.0f} kB, {spent:.0f} ms a frame", flush=True)


def truth_of(spec: ClipSpec, camera: Camera, reps: list[dict[str, Any]], frames: dict[str, Any]) -> dict[str, Any]:
    """What is known of a clip, as its truth file holds it."""
    return {
        "exercise": spec.plan.exercise,
        "view": spec.view,
        "fps": spec.fps,
        "variable_rate": spec.phone_like,
        "camera": {**asdict(camera), "view": round(camera.view, 2), "look": round(camera.look, 3)},
        "spec": {"body": spec.body, "look": asdict(spec.look), "room": asdict(spec.room), "plan": asdict(spec.plan)},
        "faults": [{"kind": kind, "reps": list(reps_of)} for kind, reps_of in spec.faults],
        "reps": reps,
        "frames": frames,
    }


def _extremes(body: RestBody, posed: Any, hands: Any) -> Iterator[Array]:
    """Points that must be in the picture besides the joints: crown, hands with what they hold, toes."""
    crown = posed.heads[body.bone("head")] + posed.rotations[body.bone("head")] @ np.array([0.0, -0.02, 0.2])
    yield crown
    for hand in hands.values():
        yield hand.centre + 0.1 * hand.axes[:, 0]
    for letter in "LR":
        yield posed.heads[body.bone(f"foot.{letter}")] + np.array([0.0, -0.2, -0.08])


def fit(camera: Camera, points: Array) -> Camera:
    """The camera turned up or down and zoomed so that all points are in the picture with a margin."""
    low, high = 0.3, 1.7
    for _ in range(20):
        camera = replace(camera, look=(low + high) / 2, view=60.0)
        y = picture_points(camera, points)[:, 1]
        if camera.height_px - y.max() < y.min():
            high = camera.look
        else:
            low = camera.look
    middle = np.array([camera.width, camera.height_px]) / 2
    half = np.abs(picture_points(camera, points) - middle).max(axis=0) / middle
    grow = float(max(half)) * (1.0 + camera.margin)
    view = 2 * np.degrees(np.arctan(np.tan(np.radians(30.0)) * grow))
    return replace(camera, view=float(view))


def encode(pictures: Iterator[Any], t: Array, rate: float, camera: Camera, path: Path) -> None:
    """Write H.264 at true presentation times, coarser until it is small enough."""
    with tempfile.TemporaryDirectory() as spare:
        master = Path(spare) / path.name
        _write(pictures, t, rate, camera, master, quality=15, preset="veryfast")
        for quality in (25, 27, 29, 31, 33, 36):
            with av.open(str(master)) as source:
                again = (frame.to_ndarray(format="rgb24") for frame in source.decode(video=0))
                _write(again, t, rate, camera, path, quality=quality, preset="medium")
            if path.stat().st_size < LIMIT_BYTES:
                return
    raise RuntimeError(f"{path.name} does not get below {LIMIT_BYTES} bytes")


def _write(
    pictures: Iterator[Any], t: Array, rate: float, camera: Camera, path: Path, *, quality: int, preset: str
) -> None:
    with av.open(str(path), "w", options={"movflags": "+faststart"}) as out:
        stream = out.add_stream("libx264", rate=Fraction(rate).limit_denominator(1000))
        stream.width, stream.height, stream.pix_fmt = camera.width, camera.height_px, "yuv420p"
        stream.time_base = stream.codec_context.time_base = TICK
        stream.options = {"crf": str(quality), "preset": preset, "threads": "1", "bf": "2"}
        for when, picture in zip(t, pictures, strict=True):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(when / TICK), TICK
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Render the demonstration clips and their truth files.")
    parser.add_argument("--only", nargs="+", metavar="NAME", help="render only these clips of the set list")
    parser.add_argument("--random", type=int, metavar="N", help="render N random sets instead")
    parser.add_argument("--breakdown", type=int, metavar="N", help="render N sets that break down from a known rep")
    parser.add_argument("--seed", type=int, default=1, help="seed of the random sets (default 1)")
    parser.add_argument("--benchmark", type=Path, metavar="DIR", help="render the benchmark's sets into DIR/<part>")
    parser.add_argument("--part", choices=("tuning", "reporting"), help="only this part of the benchmark")
    parser.add_argument("--out", type=Path, default=DEMO, help="folder to write to")
    options = parser.parse_args()
    if options.benchmark:
        for one in benchmark_sets(options.part):
            folder = options.benchmark / one.part
            wanted = not options.only or one.spec.name in options.only
            # A run that was cut short goes on where it stopped.
            if wanted and not (folder / f"{one.spec.name}.truth.json").exists():
                render(one.spec, folder, joints_px=True, trouble=Trouble(one.spoil, one.company, one.idle))
        for extra in extra_sets(options.part):
            one, folder = extra.made, options.benchmark / extra.made.part
            if (not options.only or one.spec.name in options.only) and not (
                folder / f"{one.spec.name}.truth.json"
            ).exists():
                trouble = Trouble(one.spoil, one.company, one.idle, partial(film_of, extra), extra.seated)
                render(one.spec, folder, joints_px=True, trouble=trouble)
        return
    if options.random or options.breakdown:
        if options.out == DEMO:
            parser.error("random sets are not shipped: give --out DIR")
        for spec in random_specs(options.random or 0, options.seed):
            render(spec, options.out, joints_px=True)
        for spec in breakdown_specs(options.breakdown or 0, options.seed):
            render(spec, options.out)
        return
    known = {spec.name for spec in CLIPS}
    if unknown := set(options.only or ()) - known:
        parser.error(f"no such clip: {', '.join(sorted(unknown))}; there are {', '.join(sorted(known))}")
    for spec in CLIPS:
        if not options.only or spec.name in options.only:
            render(spec, options.out)


if __name__ == "__main__":
    main()
