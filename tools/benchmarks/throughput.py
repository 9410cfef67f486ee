"""The same bits from any number of processes, and what comes after a review: the set analysed again, its film.

Run ``python tools/benchmarks/throughput.py [--clip CLIP] [--only PART ...]``. Without a clip, a demo clip is enlarged
to 60 s of 1080 × 1920 (kept in ``.cache``). Parts: bits, again, overlay. What a review costs, `speed.py` prints.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from formcheck.analysis import analyse, analyse_camera  # noqa: E402
from formcheck.core.model import LandmarkRecording  # noqa: E402
from formcheck.exercises.registry import get_exercise  # noqa: E402
from formcheck.findings import judge_checks  # noqa: E402
from formcheck.pose.recording import load_recording  # noqa: E402
from formcheck.services.pipeline import review_clip  # noqa: E402
from formcheck.signals.angles import compute_signals  # noqa: E402
from formcheck.storage.curve_cache import CurveCache  # noqa: E402
from formcheck.storage.recording_cache import CURVES_ENDING  # noqa: E402
from formcheck.video.packets import plan_tracking  # noqa: E402
from formcheck.video.reader import ClipReader  # noqa: E402
from phone_clip import phone_clip  # noqa: E402

PARTS = ("bits", "again", "overlay")
CACHE = Path(__file__).resolve().parent / ".cache"
EXERCISE = "lateral-raise"


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clip", type=Path)
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS))
    options = parser.parse_args()
    clip = options.clip or phone_clip(CACHE / "phone-60.mp4", 60.0)
    with ClipReader(clip) as reader:
        head, plan = reader.head, plan_tracking(reader)
    print(f"{head.width} x {head.height}, {plan.end_s:.0f} s, {len(plan.chunks)} chunks, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        made = Reviews(clip, Path(folder))
        parts: dict[str, Callable[[], None]] = {
            "bits": lambda: same_bits(made),
            "again": lambda: again(made),
            "overlay": lambda: overlay(made, Path(folder)),
        }
        for part in options.only:
            parts[part]()
    return 0


def line(what: str, figure: str, to_reach: str = "") -> None:
    """One row of the table."""
    print(f"{what:<74}{figure:>9}" + (f"   (to reach: {to_reach})" if to_reach else ""), flush=True)


@dataclass
class Reviews:
    """Makes reviews of the clip from nothing, and keeps the last one's recording."""

    clip: Path
    folder: Path
    count: int = 0
    last: LandmarkRecording | None = None
    last_s: float = 0.0

    def make(self, processes: int | None = None) -> LandmarkRecording:
        """One more review."""
        self.count += 1
        start = time.perf_counter()
        _, self.last = review_clip(
            self.clip, get_exercise(EXERCISE), cache_dir=self.folder / str(self.count), processes=processes
        )
        self.last_s = time.perf_counter() - start
        return self.last

    @property
    def recording(self) -> LandmarkRecording:
        """A recording of the clip."""
        return self.last or self.make()


# ---------------------------------------------------------------- the same result


def same_bits(made: Reviews) -> None:
    """The recording by 1, 2 and 4 processes."""
    recordings = [made.make(processes) for processes in (1, 2, 4)]
    names = ("t", "pixels", "world", "visibility")
    same = all(
        np.array_equal(getattr(recordings[0], name), getattr(other, name), equal_nan=True)
        for other in recordings[1:]
        for name in names
    )
    line("landmarks with 1, 2 and 4 processes", "the same" if same else "NOT the same", "the same to the bit")


# ---------------------------------------------------------------- afterwards


def again(made: Reviews) -> None:
    """A stored recording analysed with another limit."""
    recording = made.recording
    folder = made.folder / str(made.count)
    kept = next(folder.glob("*.npz"))
    exercise = get_exercise(EXERCISE)
    checks = tuple(check.model_copy(update={"tolerance": check.tolerance + 1}) for check in exercise.checks)
    changed = exercise.model_copy(update={"checks": checks})
    seen = analyse_camera(recording, exercise)
    start = time.perf_counter()
    judge_checks(changed, seen.readings, seen.reps, seen.camera.name)
    found_s = time.perf_counter() - start
    took: dict[str, list[float]] = {"kept": [], "fresh": []}
    for _ in range(5):
        for name, curves in (("kept", CurveCache(folder)), ("fresh", compute_signals)):
            start = time.perf_counter()
            analyse(load_recording(kept), changed, curves=curves)
            took[name].append(time.perf_counter() - start)
    again_s, fresh_s = (statistics.median(took[name]) for name in ("kept", "fresh"))
    line(
        f"stored set of {recording.clip.duration_s:.0f} s analysed again after a change of limits, s",
        f"{again_s:.3f}",
        "0.3",
    )
    line("  without the kept curves, s", f"{fresh_s:.3f}")
    sizes = sum(path.stat().st_size for path in folder.glob(f"*{CURVES_ENDING}"))
    line("  kept curves of the set, kB", f"{sizes / 1000:.0f}")
    line("  the findings alone, from numbers read before, s", f"{found_s:.4f}")
    line("  over the first review", f"{again_s / made.last_s:.4f}")


def overlay(made: Reviews, folder: Path) -> None:
    """The overlay film against the review."""
    from formcheck.report.overlay import write_overlay

    recording = made.recording
    start = time.perf_counter()
    write_overlay(made.clip, recording, folder / "overlay.mp4")
    line("overlay film over review", f"{(time.perf_counter() - start) / made.last_s:.2f}")


if __name__ == "__main__":
    raise SystemExit(main())
