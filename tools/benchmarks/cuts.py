"""Cuts made on purpose: which are seen, and whether one is seen where there is none.

Usage: ``python tools/benchmarks/cuts.py [FOLDER]``. Of every clip in the folder (the shipped ones) two pieces are cut
out with the camera left standing, and each clip is set before the next one of its size; the real pose model tracks all.
"""

import argparse
import tempfile
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import av

from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.sandbox.sandboxed_tracking import track_clip

ROOT = Path(__file__).resolve().parents[2]

PIECES = ((0.30, 0.13), (0.62, 0.13))
"""Where the pieces begin and how long they are, as shares of the clip."""
NEAR_S = 0.04
Source = tuple[Path, Sequence[tuple[float, float]]]


def written(path: Path, sources: Sequence[Source]) -> list[float]:
    """Clips behind one another without their pieces (share where it begins, share it lasts); the times of the cuts."""
    cuts: list[float] = []
    with av.open(str(path), "w") as writing:
        track, index, rate = None, 0, Fraction(30)
        for source, pieces in sources:
            with av.open(str(source)) as reading:
                film, skipping = reading.streams.video[0], index > 0
                length = float((reading.duration or 0) / av.time_base)
                for picture in reading.decode(film):
                    share = picture.time / length
                    if any(begins <= share < begins + lasts for begins, lasts in pieces):
                        skipping = True
                        continue
                    if track is None:
                        rate = Fraction(film.average_rate or 30).limit_denominator(1000)
                        track = writing.add_stream("libx264", rate=rate)
                        track.width, track.height, track.pix_fmt = film.width, film.height, "yuv420p"
                    if skipping:
                        cuts.append(index / float(rate))
                        skipping = False
                    plain = picture.reformat(track.width, track.height, "yuv420p")
                    plain.pts, plain.time_base = index, 1 / rate
                    writing.mux(track.encode(plain))
                    index += 1
        if track is not None:
            writing.mux(track.encode())
    return cuts


def seen(clip: Path, cuts: Sequence[float]) -> tuple[int, int]:
    """How many of the cuts are found, and how many are found that are none."""
    found = track_clip(clip, MediaPipeEstimator).scene.cuts
    right = sum(any(abs(one - cut) <= NEAR_S for one in found) for cut in cuts)
    return right, len(found) - right


def size(clip: Path) -> tuple[int, int]:
    """Width and height."""
    with av.open(str(clip)) as reading:
        return reading.streams.video[0].width, reading.streams.video[0].height


def main() -> int:
    """Print a line a clip and the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=ROOT / "clips_demo")
    clips = sorted(parser.parse_args().folder.glob("*.mp4"))
    sums = {"uncut clips": [0, 0, 0], "pieces cut out": [0, 0, 0], "clips behind one another": [0, 0, 0]}
    with tempfile.TemporaryDirectory() as folder:
        film = Path(folder) / "film.mp4"
        for clip, after in zip(clips, [*clips[1:], None], strict=True):
            jobs: dict[str, list[Source]] = {"uncut clips": [(clip, ())], "pieces cut out": [(clip, PIECES)]}
            if after is not None and size(clip) == size(after):
                jobs["clips behind one another"] = [(clip, ()), (after, ())]
            for kind, sources in jobs.items():
                cuts = written(film, sources)
                right, wrong = seen(film, cuts)
                sums[kind] = [a + b for a, b in zip(sums[kind], (len(cuts), right, wrong), strict=True)]
                print(f"{clip.stem:45} {kind:25} {right} of {len(cuts)} found, {wrong} where none is", flush=True)
    for kind, (there, right, wrong) in sums.items():
        print(f"{kind}: {right} of {there} cuts found, {wrong} where none is")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
