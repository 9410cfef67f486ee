"""How long the store takes to answer when it holds very many reviews, against when it holds few.

``python tools/benchmarks/store_size.py [--reviews N] [--store URL]`` fills two stores with invented reviews, one with a
hundredth of N, asks both what pages, commands, batches and deletions ask, and prints a table. Each answer is the
median of several. Half of the reviews are nobody's; the others belong to clients who have 400 each in both stores, so
that what grows is what others have. A URL names an empty database for the large store; without it both are files.
"""

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from formcheck.coaching.rating import Rating
from formcheck.formats import decode, encode
from formcheck.storage import Store
from formcheck.storage.database import compute_digest
from formcheck.storage.reviews import summary_columns
from formcheck.storage.tables import clients, documents, reviews
from tests.storage.questions import QUESTIONS, WALKS

ROOT = Path(__file__).resolve().parents[2]

REVIEW = decode((ROOT / "tests" / "data" / "review_v1.json").read_bytes())
EXERCISES = ("lateral-raise", "overhead-lateral-raise", "bent-over-lateral-raise", "guided-bar-press", "squat")
BEGUN = datetime(2026, 3, 1, tzinfo=UTC)
A_DAY = 1000
SETS_A_CLIENT = 400
FEWER = 100
AT_ONCE = 5000
ROUNDS = 15


def fill(store: Store, count: int) -> None:
    """Rows straight into the tables: keeping each review durably takes its time, and that is measured elsewhere."""
    body = encode(REVIEW)
    people = max(count // 2 // SETS_A_CLIENT, 1)
    shared: dict[str, Any] = {**summary_columns(REVIEW), "clip_name": "set.mp4", "set_number": 1}
    with store.engine.begin() as connection:
        names = ["Ada", *(f"Client {number}" for number in range(2, people + 1))]
        rows: list[dict[str, Any]] = [
            {"created_at": BEGUN, "name": name, "name_key": name.casefold()} for name in names
        ]
        connection.execute(insert(clients), rows)
        for begin in range(1, count + 1, AT_ONCE):
            numbers = range(begin, min(begin + AT_ONCE, count + 1))
            rows = []
            for number in numbers:
                at = BEGUN + timedelta(days=number / A_DAY)
                whose = None if number % 2 else number // 2 % people + 1
                own: dict[str, Any] = {"created_at": at, "session_on": at.date(), "client_id": whose}
                own |= {"clip_path": f"clips/{number}.mp4", "clip_sha256": f"{number:064x}"}
                rows.append({**shared, **own, "exercise_id": EXERCISES[(number - 1) % 5]})
            connection.execute(insert(reviews), rows)
            kept = [{"review_id": number, "sha256": compute_digest(body), "body": body} for number in numbers]
            connection.execute(insert(documents), kept)
    theirs = next(number for number in range(people * 2, count + 1, people * 2) if number % 5 == 1)
    store.set_reference_rep(theirs, REVIEW.reps[0].top_s, created_at=BEGUN)
    store.save_rating(1, Rating(REVIEW.findings[0].check, REVIEW.findings[0].verdict, agrees=True), created_at=BEGUN)


def median_ms(store: Store, ask: Callable[[Store], object]) -> float:
    """How long one question takes, once it has been asked before."""
    ask(store)
    took = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        ask(store)
        took.append(time.perf_counter() - begun)
    return 1000 * statistics.median(took)


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reviews", type=int, default=200_000)
    parser.add_argument("--store", metavar="URL")
    options = parser.parse_args()
    few = max(options.reviews // FEWER, A_DAY)
    with (
        tempfile.TemporaryDirectory() as name,
        Store.open(Path(name) / "few.sqlite") as small,
        Store.open(options.store or Path(name) / "many.sqlite") as large,
    ):
        fill(small, few)
        fill(large, options.reviews)
        print(f"{'asked':30} {few:>9} reviews {options.reviews:>9} reviews   ratio")
        for title, ask in {**QUESTIONS, **WALKS}.items():
            before, after = median_ms(small, ask), median_ms(large, ask)
            print(f"{title:30} {before:14.2f} ms {after:14.2f} ms {after / before:7.1f}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
