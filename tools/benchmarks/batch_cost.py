"""What one batch of clips costs; used by `speed.py` and `scale.py`."""

import resource
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from formcheck.batch.local import Runner
from formcheck.batch.requests import ClipRequest
from formcheck.batch.run import BatchRequest, run
from formcheck.formats import encode
from formcheck.storage import Store

EXERCISE = "lateral-raise"


@dataclass(frozen=True)
class Made:
    """One batch from nothing."""

    wall_s: float
    processor_s: float
    """Of this process and of its children that have ended; without a cluster's."""
    documents: tuple[str, ...]
    landmark_bytes: int


def make_batch(clips: list[Path], runner: Runner) -> Made:
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
