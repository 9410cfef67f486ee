"""What is asked of a store of any size: by the page, the command line, batches, exports and deletions."""

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

from formcheck.storage import Store
from formcheck.storage.client_files import client_files, review_files

DAY = date(2026, 3, 1)
_HOME = Path("no-such-folder")

QUESTIONS: Mapping[str, Callable[[Store], object]] = {
    "clip": lambda store: store.list_reviews(clip_sha256=f"{1:064x}", exercise_id="lateral-raise"),
    "place of a clip": lambda store: store.list_reviews(clip_path="clips/1.mp4"),
    "session": lambda store: store.list_reviews(exercise_id="lateral-raise", session_on=DAY),
    "client's session": lambda store: store.list_reviews(client=1, exercise_id="lateral-raise", session_on=DAY),
    "client by name": lambda store: store.list_reviews(client="ada"),
    "client's exercises": lambda store: store.exercises_reviewed(client=1),
    "exercises without a client": lambda store: store.exercises_reviewed(without_client=True),
    "number of the next set": lambda store: store.next_set(1, "lateral-raise", DAY),
    "number of nobody's next set": lambda store: store.next_set(None, "lateral-raise", DAY),
    "client's reference rep": lambda store: store.find_reference_rep(1, "lateral-raise", "front"),
    "ratings of a review": lambda store: store.ratings_of(1),
    "one review": lambda store: store.load_review(1),
    "client's files": lambda store: client_files(store, 1, _HOME),
    "one review's files": lambda store: review_files(store, 1, _HOME),
}
"""Each finds its answer by an index, whatever else is kept."""

WALKS: Mapping[str, Callable[[Store], object]] = {
    "newest": lambda store: store.list_reviews(limit=200),
    "newest of an exercise": lambda store: store.list_reviews(exercise_id="squat", with_reps=True, limit=41),
    "exercises": lambda store: store.exercises_reviewed(),
    "how many": lambda store: store.count_reviews(),
}
"""These go through an index or a table from one end, some until enough is found."""
