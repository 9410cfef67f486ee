"""How long it takes to tell one client's course when there are years of it, against when there are a few weeks.

``python tools/benchmarks/long_history.py [--sessions N]`` keeps invented sessions of four sets of nine reps, N of them
and a tenth of N, and prints what a client's page, a second look at it, and trying a limit on past reviews take.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from formcheck.analysis import analyse
from formcheck.coaching.progress import compute_progress
from formcheck.core.model import Review, SetInfo
from formcheck.exercises.limits import read_limits
from formcheck.exercises.registry import get_exercise
from formcheck.services.own_limits import find_limit_effects
from formcheck.storage import Store
from formcheck.storage.sessions import sessions_stamp, trained_sessions
from formcheck.web.components.limit_html import TRIED_ON
from tests import lifter

EXERCISE = get_exercise("lateral-raise")
CLIENT = "Ada Invented"
SETS, REPS, FEWER = 4, 9, 7
FIRST = date(2026, 1, 5)


def some_sets() -> list[Review]:
    """A few sets that differ a little."""
    rng = np.random.default_rng(1)
    made = []
    for _ in range(6):
        plan = lifter.Set(tuple(88 + rng.normal(0, 2, REPS)))
        t = lifter.times(plan.length_s)
        course = plan.course(t)
        made.append(analyse(lifter.film(t, left=course, right=course), EXERCISE).review)
    return made


def fill(store: Store, sets: list[Review], sessions: int) -> None:
    """Three sessions a week, the load raised now and then."""
    for number in range(sessions * SETS):
        session = number // SETS
        day = FIRST + timedelta(days=session * 7 // 3)
        of = replace(sets[number % len(sets)].clip, sha256=f"{number:064x}")
        load = SetInfo(6 + session // 25 * 0.5, REPS)
        at = datetime(day.year, day.month, day.day, 18, number % SETS, tzinfo=UTC)
        review = replace(sets[number % len(sets)], clip=of, set_info=load)
        store.save_review(review, created_at=at, client=CLIENT, session_on=day)


def seconds(work: Callable[[], object]) -> float:
    """How long it takes."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def times(store: Store) -> dict[str, float]:
    """Seconds for each thing that is looked at."""
    client = store.get_client(CLIENT).id
    sessions = trained_sessions(store, client, EXERCISE.id)
    limits = read_limits({"height": {"limit": 80.0}})
    return {
        "reading the sessions": seconds(lambda: trained_sessions(store, client, EXERCISE.id)),
        "telling the course": seconds(lambda: compute_progress(sessions)),
        "seeing that nothing changed": seconds(lambda: sessions_stamp(store, client, EXERCISE.id)),
        f"a limit on the newest {TRIED_ON}": seconds(
            lambda: find_limit_effects(store, EXERCISE.id, limits, client=client, newest=TRIED_ON)
        ),
    }


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=150)
    options = parser.parse_args()
    counts = (max(options.sessions // FEWER, 2), options.sessions)
    sets, found = some_sets(), []
    with tempfile.TemporaryDirectory() as folder:
        for count in counts:
            with Store.open(Path(folder) / f"{count}.sqlite") as store:
                fill(store, sets, count)
                found.append(times(store))
    print(f"{'':30} {counts[0]:>6} sessions {counts[1]:>6} sessions   ratio")
    for what, before in found[0].items():
        after = found[1][what]
        print(f"{what:30} {before:13.3f} s {after:13.3f} s {after / before:7.1f}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
