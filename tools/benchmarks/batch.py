"""What a batch costs: two processes against one, a cluster against processes, the same bits, processor time and bytes.

Run ``python tools/benchmarks/batch.py [--clips N] [--seconds S] [--rounds N] [--only PART ...]``. The clips are a
shipped one over and over in 360 × 640, each cut at another length so that no two are the same. Everything that is
compared runs in turns; ratios of wall time need a machine that does nothing else, and the share of it that was free is
printed beside them. Parts: processes, cluster, bits, cost.
"""

import argparse
import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from formcheck.batch.cluster import ClusterRunner  # noqa: E402
from formcheck.batch.local import ProcessRunner, Runner  # noqa: E402
from formcheck.batch.requests import ClipRequest  # noqa: E402
from formcheck.batch.run import BatchRequest, run  # noqa: E402
from formcheck.formats import encode  # noqa: E402
from formcheck.storage import Store  # noqa: E402
from phone_clip import small_clip  # noqa: E402  # the repository's own package first

PARTS = ("processes", "cluster", "bits", "cost")
CACHE = Path(__file__).resolve().parent / ".cache"
EXERCISE = "lateral-raise"


@dataclass(frozen=True)
class Made:
    """One batch from nothing."""

    wall_s: float
    processor_s: float
    """Of this process and of its children that have ended; without a cluster's."""
    documents: tuple[str, ...]
    landmark_bytes: int


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS))
    options = parser.parse_args()
    clips = [
        small_clip(CACHE / f"batch-{options.seconds:g}-{n}.mp4", options.seconds + n / 30) for n in range(options.clips)
    ]
    print(f"{len(clips)} clips of {options.seconds:g} s, {os.cpu_count()} cores")
    parts: dict[str, Callable[[], None]] = {
        "processes": lambda: two_against_one(clips, options.rounds),
        "cluster": lambda: cluster_against_processes(clips, options.rounds),
        "bits": lambda: same_bits(clips),
        "cost": lambda: cost(clips, options.seconds),
    }
    for part in options.only:
        parts[part]()
    return 0


def line(what: str, figure: str, to_reach: str = "") -> None:
    """One row of the table."""
    print(f"{what:<74}{figure:>9}" + (f"   (to reach: {to_reach})" if to_reach else ""), flush=True)


def make(clips: list[Path], runner: Runner) -> Made:
    """One batch into an empty store."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        orders = [ClipRequest(str(clip), EXERCISE) for clip in clips]
        before, start = processor_s(), time.perf_counter()
        with Store.open(folder / "reviews.sqlite") as store:
            summary = run(BatchRequest(orders, str(folder / "landmarks")), store, runner)
            wall = time.perf_counter() - start
            if not summary.all_good:
                raise SystemExit(f"not reviewed: {next(one.text for one in summary.outcomes if one.state == 'failed')}")
            documents = tuple(encode(store.load_review(one.review_id or 0)) for one in summary.outcomes)
        landmarks = sum(path.stat().st_size for path in (folder / "landmarks").glob("*.npz"))
        return Made(wall, processor_s() - before, documents, landmarks)


def in_turns(first: Callable[[], Made], second: Callable[[], Made], rounds: int) -> list[float]:
    """Wall time of the first over that of the second, each round."""
    return [first().wall_s / second().wall_s for _ in range(rounds)]


def two_against_one(clips: list[Path], rounds: int) -> None:
    """The same batch by one process and by two."""
    free = free_share()
    ratios = in_turns(lambda: make(clips, ProcessRunner(1)), lambda: make(clips, ProcessRunner(2)), rounds)
    line(f"batch of {len(clips)} clips: 1 process over 2, median of rounds", f"{statistics.median(ratios):.2f}", "1.8")
    line("  each round", ", ".join(f"{ratio:.2f}" for ratio in ratios))
    line("  share of the machine that was free before", f"{free:.0%}")


def cluster_against_processes(clips: list[Path], rounds: int) -> None:
    """Two workers of a cluster on this machine, and two processes."""
    from distributed import LocalCluster

    with LocalCluster(  # type: ignore[no-untyped-call, unused-ignore]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        address = str(cluster.scheduler_address)
        ratios = in_turns(lambda: make(clips, ProcessRunner(2)), lambda: make(clips, ClusterRunner(address)), rounds)
    line("2 local processes over a cluster of 2 workers, median of rounds", f"{statistics.median(ratios):.2f}", "0.9")
    line("  each round", ", ".join(f"{ratio:.2f}" for ratio in ratios))


def same_bits(clips: list[Path]) -> None:
    """The reviews by 1, 2 and 4 processes."""
    found = {make(clips[:4], ProcessRunner(processes)).documents for processes in (1, 2, 4)}
    line("reviews with 1, 2 and 4 processes", "the same" if len(found) == 1 else "NOT the same", "the same to the bit")


def cost(clips: list[Path], seconds: float) -> None:
    """What one clip takes, and what that is a minute of film."""
    made = make(clips, ProcessRunner(1))
    minutes = sum(seconds + n / 30 for n in range(len(clips))) / 60
    line("processor seconds a clip", f"{made.processor_s / len(clips):.1f}")
    line("processor seconds a second of film", f"{made.processor_s / minutes / 60:.2f}")
    line("kilobytes of landmarks a minute of film", f"{made.landmark_bytes / minutes / 1000:.0f}")
    line("kilobytes of review document a clip", f"{sum(map(len, made.documents)) / len(clips) / 1000:.0f}")


def processor_s() -> float:
    """Processor seconds of this process and the children that have ended, theirs included."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(item.ru_utime + item.ru_stime for item in used)


def free_share() -> float:
    """How much of a core's time this process gets when it only counts."""
    wall, own = time.perf_counter(), time.process_time()
    while time.perf_counter() - wall < 1.0:
        pass
    return (time.process_time() - own) / (time.perf_counter() - wall)


if __name__ == "__main__":
    raise SystemExit(main())
