"""Render numbered sets, track them with the pose model, and pack landmarks and truth; the clips are not kept.

    python tools/render/make_sets.py tuning                     every set of a part that is not there yet
    python tools/render/make_sets.py tuning --numbers 0-19 40   some of them
    python tools/render/make_sets.py tuning --numbers 7 --clips FOLDER   a set again, its clip written to FOLDER
    python tools/render/make_sets.py tuning --truth             pose the truth of packed sets anew, without drawing
    python tools/render/make_sets.py tuning --numbers 0-25 --rates 15 10 --out FOLDER
                                                                the same pictures, every second or third of them

A run that is cut short goes on where it stopped. Needs the `render` extra. A set's rendering takes half a minute to a
minute of one core.
"""

from __future__ import annotations

import argparse
import fcntl
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from body import Array, RestBody, make_body
from filming import fit_camera, list_extremes, write_clip
from furniture import SetStudio
from motion import Times, frame_times
from movements import MOVES, Move
from numbered_sets import COUNTS, SEEDS, NumberedSet, films_of
from posture import Hand, pose
from rest_movements import Frame, pose_rest
from scene import rail_position
from set_movement import DoneRep, SetMovement
from spoil import spoiled
from truth_points import POINTS, TruthPoints

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "benchmarks"))  # how sets are packed is known there
from formcheck.video.chunks import take_at_rate
from packed_sets import PackedTruth, pack_recording, pack_truth, packed_folder

Picture = NDArray[np.uint8]


class FilmedSet:
    """A numbered set, posed and with its camera set up; nothing is drawn yet."""

    def __init__(self, spec: NumberedSet) -> None:
        self.body: RestBody = make_body(spec.body)
        self.move: Move = replace(MOVES[spec.plan.exercise], **dict(spec.plan.changes))
        self.reps: list[DoneRep] = []
        if spec.further or not spec.plan.reps:
            self.t, self.poses = self._film_with_rests(spec)
        else:
            movement = SetMovement(spec.plan, self.body)
            length = movement.duration - spec.begins - spec.stops_early
            self.t = frame_times(length, spec.fps, phone_like=spec.phone_like, seed=spec.plan.seed + len(spec.suffix))
            self.poses = [pose(self.body, posture) for posture in movement.postures(self.t + spec.begins)]
            self.reps = [
                shifted(rep, -spec.begins)
                for rep in movement.reps
                if rep.times.start - spec.begins > -0.2 and rep.times.end - spec.begins < self.t[-1]
            ]
        points = TruthPoints(self.body)
        self.points: Array = np.array([points.at(posed, hands) for posed, hands in self.poses])
        extremes = [list(list_extremes(self.body, posed, hands)) for posed, hands in self.poses]
        reach = np.concatenate([self.points, np.array(extremes)], axis=1)
        self.spec = replace(spec, camera=fit_camera(spec.camera, reach.reshape(-1, 3)))

    def _film_with_rests(self, spec: NumberedSet) -> tuple[Array, list[Frame]]:
        """Sets and rests in turn, at an even rate; the reps are noted on the film's clock."""
        rng = np.random.default_rng([SEEDS[spec.part], spec.number, 2])
        plans = (spec.plan, *spec.further) if spec.plan.reps else ()
        poses: list[Frame] = []
        for index in range(max(len(plans), 1)):
            if plans:
                movement = SetMovement(plans[index], self.body)
                t = np.arange(0.0, movement.duration, 1 / spec.fps)
                self.reps += [shifted(rep, len(poses) / spec.fps) for rep in movement.reps]
                poses += [pose(self.body, posture) for posture in movement.postures(t)]
            if index < len(spec.rests):
                poses += pose_rest(rng, self.body, spec.rests[index], spec.fps, seated=spec.seated)
        return np.arange(len(poses)) / spec.fps, poses

    def truth(self) -> PackedTruth:
        """What is known of the set."""
        spec = self.spec
        reps = [
            {
                **{name: round(value, 4) for name, value in asdict(rep.times).items()},
                "share": rep.share,
                "side": rep.side,
            }
            for rep in self.reps
        ]
        document = {name: value for name, value in asdict(spec).items() if name not in ("plan", "faults", "further")}
        document |= {
            "exercise": spec.plan.exercise,
            "plan": asdict(spec.plan),
            "further": [asdict(plan) for plan in spec.further],
            "faults": [asdict(fault) for fault in spec.faults],
            "reps": reps,
        }
        return PackedTruth(document, self.t, POINTS, self.points)

    def draw(self) -> Iterator[Picture]:
        """(height, width, 3) pictures, as a bad camera takes them where the set says so."""
        hands: list[dict[str, Hand]] = [held for _, held in self.poses]
        rails = rail_position(hands[::20]) if self.move.held == "bar" and self.reps else None
        studio = SetStudio(self.body, self.spec, self.move, rails)
        drawn = (studio.draw(posed, held, float(t)) for t, (posed, held) in zip(self.t, self.poses, strict=True))
        yield from spoiled(drawn, self.spec.spoil, self.spec.plan.seed)
        studio.close()


def shifted(rep: DoneRep, by: float) -> DoneRep:
    """A rep some seconds later."""
    times = Times(**{name: max(value + by, 0.0) for name, value in asdict(rep.times).items()})
    return replace(rep, times=times)


def make_set(spec: NumberedSet, out: Path, *, rates: tuple[int, ...], clips: Path | None) -> None:
    """Render one set, track it at the rate of its pictures and at the rates asked for besides, and pack both."""
    began = time.process_time()
    filmed = FilmedSet(spec)
    spec = filmed.spec
    with tempfile.TemporaryDirectory() as spare:
        folder = Path(spare) if clips is None else clips
        folder.mkdir(parents=True, exist_ok=True)
        clip = folder / f"{spec.name}.mp4"
        write_clip(filmed.draw(), filmed.t, spec.fps, spec.camera, clip, quality=spec.spoil.crf)
        drawn = time.process_time()
        for rate in rates:
            thin = clip.with_name(f"{spec.name}.{rate}.mp4")
            _write_thinned(clip, thin, filmed, rate)
            pack_recording(_track(thin), out / f"{spec.name}.{rate}.npz.xz")
        recording = _track(clip)
    pack_recording(recording, out / f"{spec.name}.npz.xz")
    pack_truth(filmed.truth(), out / f"{spec.name}.truth.npz.xz")
    tracked = time.process_time()
    size = (out / f"{spec.name}.npz.xz").stat().st_size + (out / f"{spec.name}.truth.npz.xz").stat().st_size
    frames = len(filmed.t)
    print(
        f"{spec.part} {spec.name}: {frames} pictures, {size / frames:.0f} bytes each, drawn in "
        f"{1000 * (drawn - began) / frames:.0f} ms and tracked in {1000 * (tracked - drawn) / frames:.0f} ms each",
        flush=True,
    )


def _write_thinned(clip: Path, thin: Path, filmed: FilmedSet, rate: int) -> None:
    """The clip with only so many pictures a second, coded once more."""
    taken = take_at_rate(filmed.t, rate)
    with av.open(str(clip)) as source:
        decoded = enumerate(source.decode(video=0))
        pictures = (frame.to_ndarray(format="rgb24") for i, frame in decoded if taken[i])
        write_clip(pictures, filmed.t[taken], rate, filmed.spec.camera, thin, quality=18)


def _track(clip: Path) -> Any:
    from formcheck.pose.estimator import MediaPipeEstimator  # slow to load
    from formcheck.storage.recording_cache import cached_recording

    with tempfile.TemporaryDirectory() as cache:
        return cached_recording(clip, MediaPipeEstimator, cache, processes=1)


@contextmanager
def claimed(spec: NumberedSet) -> Iterator[bool]:
    """Whether this process is the only one that makes a set; the claim of a process that dies goes with it."""
    folder = Path(tempfile.gettempdir()) / "rendered-sets"
    folder.mkdir(exist_ok=True)
    with (folder / f"{spec.part}-{spec.name}.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
            return
        yield True


def parse_numbers(texts: list[str], count: int) -> list[int]:
    """Numbers such as 3 or 10-19; raises ValueError for any other text and for numbers beyond the part's."""
    numbers: list[int] = []
    for text in texts:
        first, _, last = text.partition("-")
        numbers += range(int(first), int(last or first) + 1)
    if any(number >= count for number in numbers):
        raise ValueError(f"this part has the numbers 0 to {count - 1}")
    return numbers


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("part", choices=sorted(COUNTS))
    parser.add_argument("--numbers", nargs="+", metavar="N", help="sets by number: 3, or 10-19 (default: all)")
    parser.add_argument("--out", type=Path, metavar="FOLDER", help="where to pack to (default: the recordings)")
    parser.add_argument("--clips", type=Path, metavar="FOLDER", help="write the clips there too, and make sets again")
    parser.add_argument("--rates", type=int, nargs="+", default=[], metavar="HZ", help="track fewer pictures besides")
    parser.add_argument("--truth", action="store_true", help="only pose the truth anew; nothing is drawn or tracked")
    options = parser.parse_args()
    count = COUNTS[options.part]
    try:
        numbers = parse_numbers(options.numbers or [f"0-{count - 1}"], count)
    except ValueError as error:
        parser.error(str(error))
    out = options.out or packed_folder(options.part)
    out.mkdir(parents=True, exist_ok=True)
    for number in numbers:
        for spec in films_of(options.part, number):
            path = out / f"{spec.name}.truth.npz.xz"
            if options.truth and path.exists():
                pack_truth(FilmedSet(spec).truth(), path)
            elif not options.truth and (not path.exists() or options.clips is not None):
                with claimed(spec) as mine:
                    if mine:
                        make_set(spec, out, rates=tuple(options.rates), clips=options.clips)


if __name__ == "__main__":
    main()
