"""What is killed by `kills.py`: each kind of work tells what is done once it is done, and goes on until its end."""

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np

from formcheck.capture.pose import Pose
from formcheck.capture.upright import Rgb
from formcheck.codec import decode
from formcheck.exercises.limits import read_limits
from formcheck.exercises.registry import get_exercise
from formcheck.model import PoseModelInfo, Review
from formcheck.pipeline import review_clip
from formcheck.store import Store
from formcheck.store.backup import back_up, restore
from formcheck.training.plan import parse_plan

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "tests" / "data"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
Tell = Callable[[object], None]


class QuickModel:
    """A pose model that costs nothing, so that kills fall into everything else."""

    info = PoseModelInfo("made-up", "8" * 64)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        pass

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """Somebody in the middle, of no shape, who sways."""
        places = np.random.default_rng(1).uniform(-0.4, 0.4, (33, 3)) + 0.05 * np.sin(t_s)
        return Pose(32.0 + 60 * places[:, :2], places, np.full(33, 0.9))


def reviewed(clip: Path, recordings: Path, processes: int | None = None) -> Review:
    """A clip's review by the quick model."""
    exercise = get_exercise("lateral-raise")
    made = review_clip(clip, exercise, estimator_factory=QuickModel, cache_dir=recordings, processes=processes)
    return made[0].review


def reviews(folder: Path, tell: Tell) -> None:
    """Look at a clip in guarded processes, review it, keep the review; a new clip every third time."""
    clip = folder / "clip.mp4"
    whole = clip.read_bytes()
    for number in range(10**9):
        if number % 3 == 0:  # bytes behind the last box change nothing but the checksum
            clip = folder / f"clip-{datetime.now(UTC).timestamp():.6f}.mp4"
            clip.write_bytes(whole + b"\0\0\0\x10free" + number.to_bytes(8, "big"))
        review = reviewed(clip, folder / "recordings")
        with Store.open(folder / "store.sqlite") as store:
            tell(store.save_review(review, created_at=datetime.now(UTC), clip_path=clip))


def limits(folder: Path, tell: Tell) -> None:
    """Change limits and plans."""
    with Store.open(folder / "store.sqlite") as store:
        if store.find_client("Ada") is None:
            store.add_client("Ada", created_at=NOON)
        for number in range(10**9):
            made = store.set_limits("squat", read_limits({"depth": {"limit": 80.0 + number % 9}}), created_at=NOON)
            tell(made.id)
            store.set_plan("Ada", "squat", parse_plan(f"3x{8 + number % 5}"), created_at=NOON)


def imports(folder: Path, tell: Tell) -> None:
    """Put a backup in the place of the store, again and again."""
    for number in range(10**9):
        count, kept = restore(folder / "store.sqlite", folder / "backup.sqlite", restored_at=NOON)
        tell(f"{count}")
        if kept is not None and number % 2:
            kept.unlink(missing_ok=True)


def backups(folder: Path, tell: Tell) -> None:
    """Write the store to one and the same backup."""
    with Store.open(folder / "store.sqlite") as store:
        while True:
            tell(back_up(store, folder / "made.sqlite"))


def migrations(folder: Path, tell: Tell) -> None:
    """Bring a store of the first schema up to date."""
    with Store.open(folder / "store.sqlite") as store:
        tell(store.check())
    time.sleep(3600)  # done: wait for the end


def sample_store(path: Path, reviews_in_it: int) -> None:
    """A store with so many reviews."""
    review = decode((DATA / "review_v1.json").read_bytes())
    with Store.open(path) as store:
        for _ in range(reviews_in_it):
            store.save_review(review, created_at=NOON)


KINDS = {work.__name__: work for work in (reviews, limits, imports, backups, migrations)}
