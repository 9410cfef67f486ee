"""The rows of the list of reviewed sets: what came out, in a word, and the next cue of each."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.report import wording
from formcheck.report.next_cue import SEEN_FOR_PRAISE, choose_next_cue
from formcheck.report.problem_text import is_blocked, name_problems
from formcheck.report.words import WORDS
from formcheck.services.own_limits import exercise_for
from formcheck.services.thumbnail import load_thumbnail
from formcheck.storage import Store, StoredReview
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web.review.renewal import is_earlier

Shown = Literal["open", "new", "done", "all"]
SHOWN: dict[Shown, str] = {"open": "To do", "new": "New", "done": "Done", "all": "All"}
LISTED = 40
"""So many rows are shown at a time: for each a review is read."""
_MARKS = ("noted", "not_met", "probably_not_met", "close", "unseen", "probably_met", "met")
"""Shapes of outcomes, what needs looking at first."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came out of a set, for a list."""

    mark: str
    """The shape beside the words, of `templates/pieces.j2`."""
    words: str


@dataclass(frozen=True, slots=True)
class InboxRow:
    """One line of the list."""

    stored: StoredReview
    outcome: Outcome
    cue: str
    picture: str
    """A data address; empty where there is none."""
    earlier: bool
    """An earlier formcheck made it (`formcheck.web.review.renewal.is_earlier`)."""

    @property
    def facts(self) -> str:
        """Reps and load, and that an earlier formcheck made the review."""
        stored = self.stored
        done = wording.name_reps(stored.complete_reps, stored.reps)
        if stored.partial_reps:
            done += f" + {stored.partial_reps} partial"
        return " · ".join(filter(None, (done, wording.format_load(stored.load_kg), "earlier" if self.earlier else "")))


def describe_outcome(row: StoredReview) -> Outcome:
    """The gravest thing a row says of its set."""
    words = WORDS["list_outcomes"]
    sure = row.not_met - row.probably_not_met
    if row.problem_codes and (is_blocked(row.problem_codes) or not (row.complete_reps + row.partial_reps)):
        return Outcome("noted", name_problems(row.problem_codes))
    if sure:
        return Outcome("not_met", words["not_met"].format(amount=row.not_met))
    if row.not_met:
        return Outcome("probably_not_met", words["probably_not_met"].format(amount=row.not_met))
    if row.problem_codes:  # of a set that was seen in part nobody knows that there is nothing to change
        return Outcome("noted", name_problems(row.problem_codes))
    judged = row.met + row.too_close
    if judged and judged < SEEN_FOR_PRAISE * (row.met + row.undecided):
        return Outcome("unseen", words["few-seen"])
    if row.met:
        return Outcome("met" if row.met > row.probably_met else "probably_met", words["met"])
    return Outcome("close", words["close"]) if row.too_close else Outcome("unseen", words["unseen"])


SORTS: dict[str, Callable[[StoredReview], tuple[object, ...]]] = {
    "day": lambda row: (row.session_on, row.created_at, row.id),
    "client": lambda row: (row.client is None, (row.client or "").casefold()),
    "exercise": lambda row: (row.exercise_name.casefold(),),
    "outcome": lambda row: (_MARKS.index(describe_outcome(row).mark), -row.not_met),
    "state": lambda row: (row.done_at is not None, row.seen_at is not None),
}
"""What the list can be sorted by."""


def is_shown(row: StoredReview, shown: Shown) -> bool:
    """Whether a row is of the kind asked for."""
    if row.deletion_at is not None:
        return False
    if shown == "new":
        return row.seen_at is None
    return shown == "all" or (row.done_at is not None) == (shown == "done")


def sort_rows(rows: Sequence[StoredReview], by: str, *, backwards: bool) -> list[StoredReview]:
    """The rows in order; equal ones the newest first."""
    newest_first = sorted(rows, key=SORTS["day"], reverse=True)
    if by == "day":
        return newest_first if backwards else newest_first[::-1]
    return sorted(newest_first, key=SORTS[by], reverse=backwards)


def make_rows(store: Store, stored: Sequence[StoredReview]) -> list[InboxRow]:
    """The rows with cue and picture."""
    data, corrected = DataFolder(data_home()), dict(store.newest_corrections([row.id for row in stored]))
    limits: dict[tuple[str, int | None], str] = {}
    made = []
    for row in stored:
        judged = row.exercise_id, row.client_id
        if judged not in limits:
            limits[judged] = str([item.id for item in store.limits_of(row.exercise_id, client=row.client_id)])
        state = f"{store.location} {row.created_at} {row.clip_sha256} {corrected.get(row.id)} {judged} {limits[judged]}"
        picture = load_thumbnail(data.artifacts(row.id))
        cue, earlier = _read_review(row.id, state, store, row.client_id)
        made.append(InboxRow(row, describe_outcome(row), cue, picture, earlier))
    return made


@st.cache_data(max_entries=4000, show_spinner=False)
def _read_review(review_id: int, state: str, _store: Store, _client_id: int | None) -> tuple[str, bool]:
    """The next cue of a review, and whether an earlier formcheck made it.

    The cue is empty where there is none, or where the review is damaged, which its page tells.
    """
    try:
        review = _store.load_review(review_id)
    except FormcheckError:
        return "", False
    exercise = None
    with suppress(FormcheckError):  # the exercise's file is gone: the cue says what was stored
        exercise = exercise_for(_store, review.exercise.id, _client_id)
    cue = choose_next_cue(review, exercise)
    return "" if cue is None else cue.cue, is_earlier(review)
