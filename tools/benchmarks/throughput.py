"""What a review costs: against a bare loop over the same pictures, in processor time, in memory, in agreement.

Run ``python tools/benchmarks/throughput.py [--clip CLIP] [--rounds N] [--only PART ...]``. Without a clip, a demo clip
is enlarged to 60 s of 1080 × 1920 (kept in ``.cache``). Everything that is compared runs in turns on the same machine,
so that ratios do not depend on its speed. Parts: time, share, bits, agreement, memory, again, overlay.
"""

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from apart import trackings_apart  # noqa: E402
from bare_loop import bare_loop, first_frames  # noqa: E402  # the repository's own package first
from formcheck.analysis import analyse, analyse_camera  # noqa: E402
from formcheck.core.model import LandmarkRecording  # noqa: E402
from formcheck.exercises.registry import get_exercise  # noqa: E402
from formcheck.findings import judge_checks  # noqa: E402
from formcheck.pose.estimator import MediaPipeEstimator  # noqa: E402
from formcheck.pose.recording import load_recording  # noqa: E402
from formcheck.pose.survey import take_sample  # noqa: E402
from formcheck.services.pipeline import review_clip  # noqa: E402
from formcheck.signals.angles import compute_signals  # noqa: E402
from formcheck.storage.curve_cache import CurveCache  # noqa: E402
from formcheck.storage.recording_cache import CURVES_ENDING  # noqa: E402
from formcheck.video.chunks import WARM_UP_S  # noqa: E402
from formcheck.video.packets import plan_tracking  # noqa: E402
from formcheck.video.reader import ClipReader  # noqa: E402
from memory_use import peak_mb  # noqa: E402
from phone_clip import phone_clip, small_clip  # noqa: E402

PARTS = ("time", "share", "bits", "agreement", "memory", "again", "overlay")
CACHE = Path(__file__).resolve().parent / ".cache"
EXERCISE = "lateral-raise"


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clip", type=Path)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS))
    parser.add_argument("--model-alone", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.model_alone:
        print(model_alone(options.model_alone))
        return 0
    clip = options.clip or phone_clip(CACHE / "phone-60.mp4", 60.0)
    with ClipReader(clip) as reader:
        head, plan = reader.head, plan_tracking(reader)
    print(f"{head.width} x {head.height}, {plan.end_s:.0f} s, {len(plan.chunks)} chunks, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        made = Reviews(clip, Path(folder))
        parts: dict[str, Callable[[], None]] = {
            "time": lambda: time_against_bare_loop(made, options.rounds),
            "share": lambda: share_of_the_rest(made),
            "bits": lambda: same_bits(made),
            "agreement": lambda: agreement(made),
            "memory": memory,
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


# ---------------------------------------------------------------- time


def time_against_bare_loop(made: Reviews, rounds: int) -> None:
    """Reviews and bare loops in turns."""
    bare_loop(made.clip, at_most=5)  # imports and first-time set-up are paid before the clock runs
    bare, review, bound = [], [], []
    for _ in range(rounds):
        start = time.perf_counter()
        frames = bare_loop(made.clip)
        bare.append((time.perf_counter() - start) / frames)
        seen = made.make()
        review.append(made.last_s / seen.clip.frames)
        bound.append(both_cores(made.clip))
    ratios = [b / a for a, b in zip(bare, review, strict=True)]
    line("bare loop (cv2.VideoCapture + pose model), ms a frame", f"{1000 * statistics.median(bare):.1f}")
    line("review over bare loop, median of rounds", f"{statistics.median(ratios):.2f}", "0.60")
    line("  each round", ", ".join(f"{ratio:.2f}" for ratio in ratios))
    alone = [b / a for a, b in zip(bare, bound, strict=True)]
    line("pose model alone, one process a core, over bare loop (no decoding at all)", f"{statistics.median(alone):.2f}")
    rest = [b / a for a, b in zip(bound, review, strict=True)]
    line("review over that limit", f"{statistics.median(rest):.2f}")


def model_alone(clip: Path) -> float:
    """Wall seconds a frame of the pose model on pictures decoded beforehand."""
    frames, rounds = first_frames(clip, 150), 2
    with MediaPipeEstimator() as estimator:
        estimator.detect(frames[0].rgb, 0.0)
        start = time.perf_counter()
        for turn in range(rounds):
            for t, rgb in frames:
                estimator.detect(rgb, 1 + t + turn * 100)
        return (time.perf_counter() - start) / (rounds * len(frames))


def both_cores(clip: Path) -> float:
    """Seconds a frame when every core runs the pose model and nothing else."""
    command = [sys.executable, __file__, "--model-alone", str(clip)]
    cores = min(4, os.cpu_count() or 1)
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(cores)]
    took = [float(process.communicate()[0]) for process in running]
    return statistics.mean(took) / cores


# ---------------------------------------------------------------- processor time


def share_of_the_rest(made: Reviews) -> None:
    """Processor time of a review, and how much of it decoding and the pose model take."""
    before = processor_s()
    frames = made.make().clip.frames
    total = processor_s() - before
    with ClipReader(made.clip) as reader:
        chunks = plan_tracking(reader).chunks
    # the pictures of the warm-ups are decoded and looked at too
    frames += round((len(chunks) - 1) * WARM_UP_S * made.recording.clip.frame_rate)
    with ClipReader(made.clip, threads=1) as reader:
        start = time.process_time()
        for _ in reader.pictures():
            pass
        decoding = (time.process_time() - start) * frames / made.recording.clip.frames
    with ClipReader(made.clip, threads=1) as reader:
        start = time.process_time()
        for _ in reader:
            pass
        pictures = (time.process_time() - start) * frames / made.recording.clip.frames
    some = first_frames(made.clip, 300)
    with MediaPipeEstimator() as estimator:
        estimator.detect(some[0].rgb, 0.0)
        start = time.process_time()
        for t, rgb in some:
            estimator.detect(rgb, 1 + t)
        model = (time.process_time() - start) / len(some) * frames
    line("processor time of a review, ms a frame, warm-ups included", f"{1000 * total / frames:.1f}")
    line(
        "  decoding / laying out as RGB / pose model, ms a frame, each on its own",
        f"{1000 * decoding / frames:.1f} / {1000 * (pictures - decoding) / frames:.1f} / {1000 * model / frames:.1f}",
    )
    line(
        "neither decoding (to RGB, as cv2 hands it out) nor pose model, share",
        f"{1 - (pictures + model) / total:.1%}",
        "10 %",
    )
    line("  counting the step to RGB as not decoding", f"{1 - (decoding + model) / total:.1%}")
    survey_spans = glances_s(made.clip)
    line(
        "  counting the glances beforehand as decoding and pose model",
        f"{1 - (pictures + model + survey_spans) / total:.1%}",
    )


def glances_s(clip: Path) -> float:
    """Processor seconds of decoding and looking for everybody in the glances, the pose model being ready."""
    with ClipReader(clip) as reader:
        survey_spans = plan_tracking(reader).survey_spans
    with MediaPipeEstimator() as estimator:
        estimator.find_people(np.zeros((64, 64, 3), np.uint8))
        start = time.process_time()
        for glance in survey_spans:
            with ClipReader(clip) as reader:
                take_sample(reader, estimator, glance)
        return time.process_time() - start


def processor_s() -> float:
    """Processor seconds of this process and the children that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(item.ru_utime + item.ru_stime for item in used)


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


def agreement(made: Reviews) -> None:
    """Chunks against the same chunks in turn and against one uninterrupted track; that against itself begun later."""
    for name, raw, smooth, peak, goal in trackings_apart(made.clip, made.recording):
        line(f"{name}, 95th percentile, % of torso", f"{raw:.2f}", "0.5" if goal else "")
        line("    the same after the documented low-pass", f"{smooth:.2f}")
        line("    largest difference of a rep's peak arm angle, degrees", f"{peak:.2f}", "0.5" if goal else "")


# ---------------------------------------------------------------- memory


def memory() -> None:
    """Peak of all processes of a review, of a clip of ten minutes over one of one minute."""
    peaks = [peak_mb(small_clip(CACHE / f"small-{minutes}.mp4", 60.0 * minutes), EXERCISE) for minutes in (1, 10)]
    line("peak memory of all processes, 1 min / 10 min, MB", " / ".join(f"{peak:.0f}" for peak in peaks))
    line("peak memory, 10 min clip over 1 min clip", f"{peaks[1] / peaks[0]:.3f}", "1.05")


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
