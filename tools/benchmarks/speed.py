"""What a review costs against the least it could: wall time, processor time, memory, batch, page.

``python tools/benchmarks/speed.py [--repeats N] [--rows ROW ...] [--seconds S]`` prints a table: each figure, what is
wanted of it, its rounds. What is compared runs in turns in this one run, so that ratios do not depend on the machine's
speed; they need one that does nothing else, and the share of it that was free is printed. Modules are compiled, as they
are once formcheck is set up, and those of this process imported before the clock runs.

The floor is what cannot be saved: decoding all pictures, handing out those that are looked at, and the pose model on
them, by one process a core that is ready before the clock runs and never waits for another. The bare loop is the plain
way (`bare_loop`). A review begins with nothing but the clip and ends with its findings. Clips are a shipped one
enlarged to what a phone films, kept in ``.cache``.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

from apart import compare_trackings
from batch_cost import free_share, make_batch, processor_s
from formcheck.analysis import Curves, analyse
from formcheck.batch.cluster import ClusterRunner
from formcheck.batch.local import ProcessRunner, Runner
from formcheck.core.model import LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.pose.estimator import TIME_STRETCH, MediaPipeEstimator
from formcheck.pose.model_bundle import find_packaged_bundle
from formcheck.pose.native_log import silence_native_log
from formcheck.pose.recording import load_recording
from formcheck.services.pipeline import review_clip
from formcheck.signals.angles import compute_signals
from formcheck.storage.curve_cache import CurveCache
from formcheck.video.chunks import TRACKED_PER_S, Chunk, take_at_rate
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader
from phone_clip import FOUR_K, FULL_HD, phone_clip, small_clip
from process_watch import peak_mb

ROOT = Path(__file__).resolve().parents[2]

CACHE = Path(__file__).resolve().parent / ".cache"
EXERCISE = "lateral-raise"
OF_THE_FLOOR, OF_THE_BARE_LOOP, PROCESSOR, REST = 1.15, 0.48, 0.8, 0.10
PEAK, TWO_PROCESSES, CLUSTER, ANGLE_DEG, ON_THE_PAGE = 1.05, 1.8, 0.9, 0.43, 0.4


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds."""

    wall: float
    processor: float


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn of what is compared on a clip."""

    review: Cost
    floor: Cost
    bare: Cost | None


@dataclass(frozen=True, slots=True)
class Asked:
    """How the table is made."""

    repeats: int
    seconds: float
    folder: Path
    numbers: "count[int]"


# ---------------------------------------------------------------- what is compared


def clocked(work: Callable[[], Any]) -> Cost:
    """What a call costs, its child processes included."""
    processor, wall = processor_s(), time.perf_counter()
    work()
    return Cost(time.perf_counter() - wall, processor_s() - processor)


def review(clip: Path, asked: Asked) -> LandmarkRecording:
    """One review from nothing."""
    folder = asked.folder / str(next(asked.numbers))
    return review_clip(clip, get_exercise(EXERCISE), cache_dir=folder)[1]


def floor(clip: Path) -> Cost:
    """The floor of a clip: every core takes as many chunks of it, all of them at once."""
    with ClipReader(clip) as reader:
        plan = plan_tracking(reader, chunk_s=5.0, whole_s=0.0)
    cores, chunks = min(4, os.cpu_count() or 1), plan.without_unseen
    running = []
    for core in range(cores):
        words = [f"{chunk.key}:{chunk.from_s}:{chunk.until_s}" for chunk in chunks[core::cores]]
        running.append(
            subprocess.Popen(
                [sys.executable, __file__, "--floor", str(clip), *words],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
        )
    for process in running:
        assert process.stdout is not None
        process.stdout.readline()  # ready
    for process in running:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    costs = [[float(number) for number in process.communicate()[0].split()] for process in running]
    # spread without loss: no core waits for another at the end
    return Cost(statistics.mean(wall for wall, _ in costs), sum(processor for _, processor in costs))


def work_on_the_floor(clip: Path, words: Sequence[str]) -> None:
    """Decode some chunks and run the pose model on what is looked at of them; prints wall and processor seconds."""
    import cv2

    cv2.setNumThreads(1)
    parts = []
    for word in words:
        key, from_s, until_s = word.split(":")
        parts.append(Chunk(None if key == "None" else int(key), float(from_s), float(until_s)))
    with MediaPipeEstimator() as estimator:
        with ClipReader(clip, threads=1) as reader:
            estimator.detect(next(iter(reader)).rgb, 0.0)
        print("ready", flush=True)
        sys.stdin.readline()
        wall = processor = 0.0
        for number, part in enumerate(parts, 1):
            with ClipReader(clip, threads=1) as reader:
                pictures = reader.pictures(part)
                if part.key is not None:  # a chunk's warm-up is none of the floor
                    for t, _ in pictures:
                        if t >= part.from_s:
                            break
                begun, used, before = time.perf_counter(), time.process_time(), None
                for t, picture in pictures:
                    if take_at_rate([t], TRACKED_PER_S, before)[0]:  # type: ignore[arg-type]
                        estimator.detect(reader.rgb(picture), 10_000 * number + t)
                    before = t
                wall += time.perf_counter() - begun
                processor += time.process_time() - used
    print(wall, processor)


def bare_loop(clip: Path, at_most: int | None = None) -> int:
    """The plain way: read a frame, find the pose, next frame; gives the number of frames."""
    import cv2
    import mediapipe
    from mediapipe.tasks.python import BaseOptions, vision

    path, _ = find_packaged_bundle()
    frames = 0
    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(path)), running_mode=vision.RunningMode.VIDEO
    )
    with silence_native_log(), vision.PoseLandmarker.create_from_options(options) as landmarker:
        capture = cv2.VideoCapture(str(clip))
        while at_most is None or frames < at_most:
            more, bgr = capture.read()
            if not more:
                break
            image = mediapipe.Image(mediapipe.ImageFormat.SRGB, cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB))
            landmarker.detect_for_video(image, round(frames * 1000 / 30) * TIME_STRETCH)
            frames += 1
        capture.release()
    return frames


def take_turns(clip: Path, asked: Asked, *, bare: bool) -> list[Turn]:
    """All that is compared on a clip, in turns."""
    bare_loop(clip, at_most=5)  # what is imported and set up once is paid before the clock runs
    review(ROOT / "clips_demo" / "lateral_raise_front_clean.mp4", asked)
    turns = []
    for _ in range(asked.repeats):
        alone = clocked(partial(bare_loop, clip)) if bare else None
        turns.append(Turn(clocked(partial(review, clip, asked)), floor(clip), alone))
    return turns


# ---------------------------------------------------------------- the table


def line(what: str, figures: Sequence[float], wanted: float | None = None, *, at_least: bool = False) -> None:
    """One row: the median of the rounds, what is wanted of it, the rounds."""
    middle = statistics.median(figures)
    told = ""
    if wanted is not None:
        kept = middle >= wanted if at_least else middle <= wanted
        told = f"  {'at least' if at_least else 'at most'} {wanted:4.2f}: {'yes' if kept else 'NO'}"
    rounds = f"  ({', '.join(f'{figure:.2f}' for figure in figures)})" if len(figures) > 1 else ""
    print(f"{what:<66}{middle:6.2f}{told}{rounds}", flush=True)


def full_hd(asked: Asked) -> None:
    """A telephone's full-HD clip at 30 pictures a second."""
    clip = phone_clip(CACHE / f"phone-{asked.seconds:g}.mp4", asked.seconds)
    turns = take_turns(clip, asked, bare=True)
    walls = [(turn.review.wall, turn.floor.wall, turn.bare.wall) for turn in turns if turn.bare]
    used = [(turn.review.processor, turn.floor.processor, turn.bare.processor) for turn in turns if turn.bare]
    line("1080p30: review over the floor", [a / b for a, b, _ in walls], OF_THE_FLOOR)
    line("1080p30: review over the bare loop", [a / c for a, _, c in walls], OF_THE_BARE_LOOP)
    line("  the floor over the bare loop", [b / c for _, b, c in walls])
    line("1080p30: processor time of a review over that of the bare loop", [a / c for a, _, c in used], PROCESSOR)
    line("1080p30: share of it that is neither decoding nor the model", [1 - b / a for a, b, _ in used], REST)
    line("  processor seconds a second of film", [a / asked.seconds for a, _, _ in used])


def other_clip(name: str, asked: Asked, **film: Any) -> None:
    """A clip of another size, rate or coder."""
    seconds = asked.seconds / 2
    clip = phone_clip(CACHE / f"{name.replace(' ', '-')}-{seconds:g}.mp4", seconds, **film)
    turns = take_turns(clip, asked, bare=False)
    line(f"{name}: review over the floor", [turn.review.wall / turn.floor.wall for turn in turns], OF_THE_FLOOR)
    line("  processor seconds a second of film", [turn.review.processor / seconds for turn in turns])


def memory(asked: Asked) -> None:
    """Peak memory of all processes, of a clip ten times as long as another."""
    lengths = [asked.seconds, 10 * asked.seconds]
    peaks = [peak_mb(small_clip(CACHE / f"small-{seconds:g}.mp4", seconds), EXERCISE) for seconds in lengths]
    line(f"peak memory, {lengths[1] / 60:g} min over {lengths[0] / 60:g} min", [peaks[1] / peaks[0]], PEAK)
    for seconds, peak in zip(lengths, peaks, strict=True):
        line(f"  MB of a review of {seconds / 60:g} min, all processes", [peak])


def make_batch_clips(asked: Asked) -> list[Path]:
    """Forty small clips, each of another length so that no two are the same."""
    seconds = asked.seconds / 6
    return [small_clip(CACHE / f"batch-{seconds:g}-{n}.mp4", seconds + n / 30) for n in range(40)]


def compare_batches(clips: list[Path], first: Runner, second: Runner, rounds: int) -> list[float]:
    """Wall time of a batch by the first over that by the second, each round."""
    return [make_batch(clips, first).wall_s / make_batch(clips, second).wall_s for _ in range(rounds)]


def two_processes(asked: Asked) -> None:
    """A batch by one process and by two."""
    ratios = compare_batches(make_batch_clips(asked), ProcessRunner(1), ProcessRunner(2), asked.repeats)
    line("batch of 40 clips: 1 process over 2", ratios, TWO_PROCESSES, at_least=True)


def cluster(asked: Asked) -> None:
    """A batch by two processes and by two workers of a cluster on this machine."""
    from distributed import LocalCluster

    clips = make_batch_clips(asked)
    with LocalCluster(  # type: ignore[no-untyped-call, unused-ignore]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as workers:
        runner = ClusterRunner(str(workers.scheduler_address))
        ratios = compare_batches(clips, ProcessRunner(2), runner, asked.repeats)
    line("batch of 40 clips: 2 processes over a cluster of 2", ratios, CLUSTER, at_least=True)


def analyse_stored(stored: Path, exercise: Exercise, curves: Curves) -> None:
    """The landmarks of a set read and analysed."""
    analyse(load_recording(stored), exercise, curves=curves)


def again(asked: Asked) -> None:
    """A stored set analysed once more, with the curves kept beside its landmarks and without them."""
    folder, exercise = asked.folder / str(next(asked.numbers)), get_exercise(EXERCISE)
    review_clip(phone_clip(CACHE / f"phone-{asked.seconds:g}.mp4", asked.seconds), exercise, cache_dir=folder)
    stored = next(folder.glob("*.npz"))
    sources: dict[str, Curves] = {"": CurveCache(folder), " without kept curves": compute_signals}
    for what, curves in sources.items():
        work = partial(analyse_stored, stored, exercise, curves)
        turns = [clocked(work).wall for _ in range(asked.repeats)]
        line(f"s for a stored set of {asked.seconds:g} s analysed again{what}", turns)


def agreement(asked: Asked) -> None:
    """Chunks against one uninterrupted track, and how far that is from itself begun a picture later."""
    clip = phone_clip(CACHE / f"phone-{asked.seconds:g}.mp4", asked.seconds)
    against_whole, restless = compare_trackings(clip, review(clip, asked))
    for what, (raw, smooth, peak), wanted in (
        ("chunks against one uninterrupted track", against_whole, ANGLE_DEG),
        ("that track against itself begun a picture later", restless, None),
    ):
        line(f"{what}: peak angle, deg", [peak], wanted)
        line("  landmarks, 95th percentile, % of the trunk", [raw])
        line("  the same low-passed", [smooth])


def page(asked: Asked) -> None:
    """From the start button to the findings on the page, against the clip's length."""
    from playwright.sync_api import sync_playwright

    from soak_visit import PATIENCE_MS, choose_exercise, started, started_review
    from tests.web.browser_kit import chromium, served

    seconds = asked.seconds / 2
    figures = []
    for _ in range(asked.repeats):
        # a film of its own each time: what is known of a clip is not looked for again
        clip = phone_clip(CACHE / f"phone-{seconds:g}.mp4", seconds)
        home = asked.folder / f"home-{next(asked.numbers)}"
        home.mkdir()
        with served(home) as address, sync_playwright() as playwright:
            browser = started(playwright, chromium())
            tab = browser.new_page(viewport={"width": 1280, "height": 1000})
            tab.set_default_timeout(PATIENCE_MS)
            tab.goto(address)
            tab.wait_for_selector("input[type=file]", state="attached")
            tab.wait_for_timeout(2000)
            tab.set_input_files("input[type=file]", str(clip))
            tab.locator(".fc-clip").first.wait_for()
            start = tab.get_by_role("button", name="Review the set", exact=True)
            choose_exercise(tab, start)
            begun = time.perf_counter()
            started_review(tab, start)
            tab.wait_for_selector(".fc-rep, .fc-problem")  # of a very short clip only a problem is told
            figures.append((time.perf_counter() - begun) / seconds)
            browser.close()
    line(f"page: from the start button to the findings, of a {seconds:g} s clip's length", figures, ON_THE_PAGE)


ROWS: dict[str, Callable[[Asked], None]] = {
    "1080p30": full_hd,
    "1080p60": partial(other_clip, "1080p60", rate=60, bit_rate=27_000_000),
    "4k30": partial(other_clip, "4K30", size=FOUR_K, bit_rate=50_000_000),
    "b-pictures": partial(other_clip, "1080p30 with B-pictures", size=FULL_HD, b_pictures=1),
    "memory": memory,
    "batch": two_processes,
    "cluster": cluster,
    "again": again,
    "agreement": agreement,
    "page": page,
}


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5, metavar="N", help="turns, of which the median is told")
    parser.add_argument(
        "--rows", nargs="+", choices=list(ROWS), default=list(ROWS), metavar="ROW", help=", ".join(ROWS)
    )
    parser.add_argument(
        "--seconds", type=float, default=60.0, metavar="S", help="of the 1080p30 clip; others in the same proportion"
    )
    parser.add_argument("--floor", nargs="+", help=argparse.SUPPRESS)
    given = parser.parse_args()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    if given.floor:
        work_on_the_floor(Path(given.floor[0]), given.floor[1:])
        return 0
    print(f"{os.cpu_count()} cores, {free_share():.0%} of one free before; median of {given.repeats}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        asked = Asked(given.repeats, given.seconds, Path(folder), count(1))
        for row in given.rows:
            ROWS[row](asked)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
