"""Render invented sets filmed by two cameras at once: material to check the pairing of two clips with, never shipped.

    python tools/render/pairs.py --out DIR                 all pairs of the list
    python tools/render/pairs.py --out DIR --only NAME ...  some of them
    python tools/render/pairs.py --out DIR --random 4 --seed 1   random sets, each filmed by two random cameras

Each camera starts and stops filming at a moment of its own, at a frame rate of its own; the truth file says when the
clip begins on the set's clock (`begins`, seconds), so the difference of two of them is what an alignment must find.
Needs the `render` extra.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from body import Array, joints_of, make_body
from lifters import HEAVY_MAN, SMALL_WOMAN, TALL_MAN, YOUNG_MAN
from motion import BENCH_TOP, Course, RepPlan, SetPlan, frame_times
from posture import pose
from random_specs import random_specs
from render import encode, fit
from scene import Camera, Room, Studio, rail_position
from specs import ClipSpec
from truth import angles_of, rep_truth
from wardrobe import Look

SOUND_HZ = 16000


@dataclass(frozen=True)
class Filming:
    """One camera of a pair: which part of the set it films, and how."""

    name: str
    camera: Camera
    fps: float
    begins: float
    """Seconds after the set's own clock starts."""
    stops_early: float = 0.0
    phone_like: bool = False


@dataclass(frozen=True)
class PairSpec:
    """One set and the two cameras that film it."""

    name: str
    plan: SetPlan
    body: dict[str, float]
    look: Look
    cameras: tuple[Filming, Filming]
    room: Room = field(default_factory=Room)
    sound: bool = False


_SMALL = Camera(width=480, height_px=854, margin=0.25)
_REPS = (RepPlan(con=1.0, top=0.3, ecc=1.4, bottom=0.4), RepPlan(con=1.1, top=0.4, ecc=1.7, bottom=0.3))

PAIRS: tuple[PairSpec, ...] = (
    PairSpec(
        name="pair_lateral",
        plan=SetPlan("lateral-raise", (*_REPS, _REPS[0]), seed=901, still=1.4),
        body=TALL_MAN,
        look=Look(skin=(0.45, 0.31, 0.23), hair=(0.06, 0.05, 0.04), shirt=(0.72, 0.30, 0.24),
                  shorts=(0.15, 0.18, 0.28)),
        cameras=(
            Filming("front", replace(_SMALL, yaw=4.0, distance=3.8, height=1.2), 30.0, 0.0),
            Filming("side", replace(_SMALL, yaw=88.0, distance=3.4, height=1.0), 25.0, 0.73),
        ),
    ),
    PairSpec(
        name="pair_bent",
        plan=SetPlan("bent-over-lateral-raise", (*_REPS, _REPS[1]), seed=902, still=0.8, tail=0.4),
        body=YOUNG_MAN,
        look=Look(skin=(0.92, 0.76, 0.66), hair=(0.40, 0.26, 0.14), shirt=(0.24, 0.34, 0.56),
                  shorts=(0.30, 0.30, 0.32)),
        cameras=(
            Filming("side", replace(_SMALL, yaw=-92.0, distance=3.6, height=0.9), 30.0, 0.41),
            Filming("front", replace(_SMALL, yaw=-6.0, distance=3.6, height=0.9), 24.0, 0.0, stops_early=0.6),
        ),
    ),
    PairSpec(
        name="pair_press",
        plan=SetPlan("guided-bar-press", (*_REPS, _REPS[0], _REPS[1]), seed=903, still=1.0, tail=0.7),
        body=SMALL_WOMAN,
        look=Look(skin=(0.86, 0.68, 0.57), hair=(0.30, 0.18, 0.10), hair_style="bun", shirt=(0.56, 0.60, 0.66),
                  shorts=(0.16, 0.18, 0.24), leg=0.85, shorts_ease=0.005),
        cameras=(
            Filming("front", replace(_SMALL, yaw=3.0, distance=3.2, height=1.25), 30.0, 0.0, phone_like=True),
            Filming("side", replace(_SMALL, yaw=95.0, distance=3.4, height=1.2), 24.0, 2.9),
        ),
        sound=True,
    ),
    PairSpec(
        name="pair_overhead",
        plan=SetPlan("overhead-lateral-raise", (_REPS[1], *_REPS), seed=904, still=0.9, setup="settle"),
        body=HEAVY_MAN,
        look=Look(skin=(0.62, 0.44, 0.33), hair=(0.12, 0.10, 0.08), shirt=(0.30, 0.48, 0.36),
                  shorts=(0.16, 0.16, 0.18)),
        cameras=(
            Filming("front", replace(_SMALL, yaw=-9.0, distance=4.4, height=1.25), 24.0, 0.55),
            Filming("oblique", replace(_SMALL, yaw=52.0, distance=4.0, height=1.3), 30.0, 0.0, stops_early=1.6),
        ),
    ),
)  # fmt: skip


def random_pairs(count: int, seed: int) -> list[PairSpec]:
    """`count` random sets, filmed from the front, behind or an angle and from the side."""
    specs = random_specs(count, seed)
    return [_random_pair(spec, np.random.default_rng([seed, number])) for number, spec in enumerate(specs)]


def _random_pair(spec: ClipSpec, rng: np.random.Generator) -> PairSpec:
    def filming(name: str, yaw: float, begins: float) -> Filming:
        camera = Camera(
            yaw=yaw,
            distance=float(rng.uniform(2.8, 4.8)),
            height=float(rng.uniform(0.8, 1.5)),
            margin=float(rng.uniform(0.2, 0.35)),
            width=480,
            height_px=854,
        )
        rate = float(rng.choice([24.0, 25.0, 30.0]))
        return Filming(name, camera, rate, begins, float(rng.uniform(0.0, 0.8)), bool(rng.random() < 0.3))

    first = filming("front", float(rng.uniform(-40, 40)), float(rng.uniform(0.0, 0.4)))
    second = filming("side", float(rng.choice([-1.0, 1.0])) * float(rng.uniform(75, 105)), float(rng.uniform(0.0, 2.5)))
    return PairSpec(f"pair_{spec.name}", spec.plan, spec.body, spec.look, (first, second), spec.room)


def render_pair(spec: PairSpec, folder: Path) -> None:
    """Write ``<pair>_<camera>.mp4`` and its truth file for both cameras."""
    body = make_body(spec.body)
    course = Course(spec.plan, body)
    sound = _sound(course) if spec.sound else None
    for film in spec.cameras:
        t = frame_times(course.duration - film.begins - film.stops_early, film.fps, phone_like=film.phone_like, seed=7)
        poses = [pose(body, posture) for posture in course.postures(t + film.begins)]
        joints = [joints_of(body, posed) for posed, _ in poses]
        camera = fit(film.camera, np.array([list(j.values()) for j in joints]).reshape(-1, 3))
        columns = [angles_of(j) for j in joints]
        frames = {"t": [round(float(x), 5) for x in t]}
        frames |= {name: [round(c[name], 2) for c in columns] for name in columns[0]}
        times = [
            replace(one, **{key: max(value - film.begins, 0.0) for key, value in asdict(one).items()})
            for one in course.reps
            if one.start - film.begins > -0.2 and one.end - film.begins < t[-1]
        ]
        truth: dict[str, Any] = {
            "exercise": spec.plan.exercise,
            "view": film.name,
            "fps": film.fps,
            "begins": film.begins,
            "camera": asdict(camera),
            "reps": rep_truth(times, frames),
            "frames": frames,
        }
        pressing = spec.plan.exercise == "guided-bar-press"
        rails = rail_position([hands for _, hands in poses[::20]]) if pressing else None
        studio = Studio(body, spec.look, camera, spec.room, bench=BENCH_TOP if pressing else None, rail_y=rails)
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{spec.name}_{film.name}.mp4"
        encode((studio.draw(posed, hands) for posed, hands in poses), t, film.fps, camera, path)
        studio.close()
        if sound is not None:
            add_sound(path, _heard(sound, film.begins, float(t[-1]), seed=round(film.camera.yaw)))
        path.with_suffix(".truth.json").write_text(json.dumps(truth, separators=(",", ":")) + "\n")
        print(f"{path.name}: {len(t)} frames", flush=True)


def _sound(course: Course) -> Array:
    """What is heard in the room, at SOUND_HZ: a clank where a repetition ends, a breath where the weight goes up."""
    rng = np.random.default_rng(course.plan.seed)
    t = np.arange(round((course.duration + 1.0) * SOUND_HZ)) / SOUND_HZ
    heard = 0.01 * rng.standard_normal(len(t))
    for rep in course.reps:
        clank, breath = t - rep.end, t - rep.start
        heard += 0.5 * np.where(clank > 0, np.exp(-18 * np.abs(clank)) * np.sin(2 * np.pi * 900 * clank), 0.0)
        heard += 0.08 * np.exp(-(((breath - 0.4) / 0.25) ** 2)) * rng.standard_normal(len(t))
    return np.asarray(heard)


def _heard(sound: Array, begins: float, seconds: float, *, seed: int) -> Array:
    """A camera's own part of the sound, with the noise of its own microphone."""
    part = sound[round(begins * SOUND_HZ) : round((begins + seconds) * SOUND_HZ)]
    return np.asarray(0.7 * part + 0.004 * np.random.default_rng(abs(seed)).standard_normal(len(part)))


def add_sound(path: Path, sound: Array) -> None:
    """Lay a sound (n,) at SOUND_HZ under a clip."""
    spare = path.with_suffix(".sound.mp4")
    with av.open(str(path)) as source, av.open(str(spare), "w", options={"movflags": "+faststart"}) as out:
        pictures = source.streams.video[0]
        video = out.add_stream_from_template(pictures)
        audio = out.add_stream("aac", rate=SOUND_HZ)
        audio.layout = "mono"
        for packet in source.demux(pictures):
            if packet.dts is not None:
                packet.stream = video
                out.mux(packet)
        for start in range(0, len(sound) - 1024, 1024):
            block = np.asarray(sound[None, start : start + 1024], dtype=np.float32)
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = SOUND_HZ, start, Fraction(1, SOUND_HZ)
            out.mux(audio.encode(frame))
        out.mux(audio.encode(None))
    spare.replace(path)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Render sets filmed by two cameras.")
    parser.add_argument("--out", type=Path, required=True, help="folder to write to; pairs are not shipped")
    parser.add_argument("--only", nargs="+", metavar="NAME", help="only these pairs")
    parser.add_argument("--random", type=int, metavar="N", help="N random pairs instead")
    parser.add_argument("--seed", type=int, default=1, help="seed of the random pairs (default 1)")
    options = parser.parse_args()
    if options.random:
        for spec in random_pairs(options.random, options.seed):
            render_pair(spec, options.out)
        return
    known = {spec.name for spec in PAIRS}
    if unknown := set(options.only or ()) - known:
        parser.error(f"no such pair: {', '.join(sorted(unknown))}; there are {', '.join(sorted(known))}")
    for spec in PAIRS:
        if not options.only or spec.name in options.only:
            render_pair(spec, options.out)


if __name__ == "__main__":
    main()
