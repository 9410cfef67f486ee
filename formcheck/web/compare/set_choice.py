"""Part of the comparing page: which set is held against which."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from formcheck.report import wording
from formcheck.report.client_match import same_session
from formcheck.storage import Client, Store, StoredReview
from formcheck.web.client.client_list import format_day

Kind = Literal["sets", "halves", "reps"]
KINDS: dict[Kind, str] = {"sets": "Two sets", "halves": "Early and late reps of a set", "reps": "Two reps"}
Against = Literal["month", "session", "first", "other"]
AGAINST: dict[Against, str] = {
    "month": "a month before",
    "session": "the session before",
    "first": "the session's first set",
    "other": "another set",
}
_NO_CLIENT = 0
"""Stands for the sets that have no client; no client has this number."""
LISTED = 200
"""So many sets a list offers: the server keeps what a list says for every visitor."""
_MONTH = timedelta(days=28)


@dataclass(frozen=True, slots=True)
class SetChoice:
    """What is to be compared; for `halves` and reps of one set both rows are the same."""

    kind: Kind
    before: StoredReview
    after: StoredReview
    before_rep: int | None = None
    after_rep: int | None = None


def choose_sets() -> SetChoice | None:
    """Ask; None while there is nothing to compare."""
    with Store.open() as store:
        clients = store.list_clients()
        exercises = store.exercises_reviewed()
        unnamed = bool(store.exercises_reviewed(without_client=True))
        wanted = _find_requested(store)
    if not exercises:
        st.info("There is nothing to compare yet: review a set first.")
        return None
    kind = st.segmented_control(
        "What to compare", list(KINDS), default="sets", required=True, format_func=KINDS.__getitem__, key="cmp_kind"
    )
    left, middle, right = st.columns([2, 2, 3])
    client = _choose_client(left, clients, wanted, unnamed=unnamed)
    exercise = _choose_exercise(middle, client, wanted)
    if exercise is None:
        st.info("There is no set of this client to compare yet.")
        return None
    rows, more = _find_sets(client, exercise)
    if wanted is not None and (wanted.exercise_id, wanted.client_id) != (exercise, client):
        wanted = None
    offered = list_sets(rows, wanted)
    words = "Set" if kind == "halves" else "Set looked at"
    after = _choose_one(offered, right, words, wanted, key=f"cmp_after_{client}_{exercise}")
    if more:
        st.caption(f"Only the newest {LISTED} sets are listed; compare an older one from its review.")
    if kind == "halves":
        return SetChoice(kind, after, after)
    before = _choose_before(rows, after, kind)
    if before is None:
        return None
    if kind == "sets":
        return SetChoice(kind, before, after)
    reps = st.columns(2)
    numbers = [
        int(column.number_input(words, 1, max(row.complete_reps + row.partial_reps, 1), default, key=f"{key}_{row.id}"))
        for column, words, row, default, key in (
            (reps[0], f"Rep of {name_set(before)}", before, 1, "cmp_rep_before"),
            (
                reps[1],
                f"Rep of {name_set(after)}",
                after,
                max(after.complete_reps + after.partial_reps, 1) if before.id == after.id else 1,
                "cmp_rep_after",
            ),
        )
    ]
    return SetChoice(kind, before, after, numbers[0], numbers[1])


def select_newest(rows: Sequence[StoredReview]) -> list[StoredReview]:
    """Sets that have reps, the newest session first; a set reviewed twice counts once."""
    seen: dict[tuple[object, ...], StoredReview] = {}
    for row in rows:  # the newest review first
        if row.complete_reps + row.partial_reps:
            # Without a client, set numbers of one day may be of several people: every clip is a set of its own.
            whose = (row.client_id, row.set_number) if row.client_id is not None else (None, row.clip_sha256)
            seen.setdefault((*whose, row.exercise_id, row.session_on), row)
    return sorted(seen.values(), key=lambda row: (row.session_on, row.set_number, row.id), reverse=True)


def list_sets(rows: list[StoredReview], wanted: StoredReview | None) -> list[StoredReview]:
    """The newest sets, and an older one that is asked for by the page's address."""
    newest = rows[:LISTED]
    return newest if wanted is None or any(row.id == wanted.id for row in newest) else [*newest, wanted]


def find_other_set(rows: Sequence[StoredReview], after: StoredReview, how: Against) -> StoredReview | None:
    """The set a choice stands for; None where there is none, or for `other`.

    Parameters
    ----------
    rows : sets of one client and exercise; none where the set has no client.

    A month before: the set of the same number in the session nearest to 28 days before, at least 14 days.
    """
    earlier = [row for row in rows if row.session_on < after.session_on and row.set_number == after.set_number]
    if how == "session":
        return max(earlier, key=lambda row: row.session_on, default=None)
    if how == "month":
        old = [row for row in earlier if after.session_on - row.session_on >= _MONTH / 2]
        aim = after.session_on - _MONTH
        return min(old, key=lambda row: abs(row.session_on - aim), default=None)
    if how == "first":
        same = [row for row in rows if row.session_on == after.session_on and row.set_number < after.set_number]
        return min(same, key=lambda row: row.set_number, default=None)
    return None


def describe_set(row: StoredReview) -> str:
    """A set in a list."""
    reps = wording.count(row.complete_reps, "rep")
    parts = [f"{format_day(row.session_on)}, set {row.set_number}", reps, wording.load_text(row.load_kg)]
    parts.append(row.client or f"“{row.clip_name}”")
    return " · ".join(part for part in parts if part)


def name_set(row: StoredReview) -> str:
    """A set in a sentence."""
    return f"set {row.set_number} of {format_day(row.session_on)}"


def make_labels(before: StoredReview, after: StoredReview) -> tuple[str, str]:
    """Two different names, as short as can be."""
    if same_session(before, after):
        names = (f"set {before.set_number}", f"set {after.set_number}")
    else:
        names = (name_set(before), name_set(after))
    if names[0] == names[1]:
        return f"review {before.id}", f"review {after.id}"
    return names


def _find_requested(store: Store) -> StoredReview | None:
    """The set the address names, or the newest of the client it names; one that has reps."""
    review, client = (
        int(given) if given.isdecimal() and len(given) < 19 else None
        for given in (st.query_params.get(name, "") for name in ("after", "client"))
    )
    found = [] if review is None else store.list_reviews(review_id=review, with_reps=True)
    if not found and client is not None:
        found = store.list_reviews(client=client, with_reps=True, limit=1)
    return found[0] if found else None


def _choose_client(
    column: DeltaGenerator, clients: Sequence[Client], wanted: StoredReview | None, *, unnamed: bool
) -> int | None:
    """The client chosen; None: the sets without a client.

    Parameters
    ----------
    unnamed : there are sets without a client.
    """
    names = {client.id: client.name for client in clients}
    if unnamed:
        names[_NO_CLIENT] = wording.capital(wording.NO_CLIENT)
    if set(names) <= {_NO_CLIENT}:
        return None
    ids = list(names)
    asked = (wanted.client_id or _NO_CLIENT) if wanted is not None else None
    index = ids.index(asked) if asked in ids else 0
    return column.selectbox("Client", ids, index=index, format_func=names.__getitem__, key="cmp_client") or None


def _choose_exercise(column: DeltaGenerator, client: int | None, wanted: StoredReview | None) -> str | None:
    """The exercise chosen; None where there is no set with reps."""
    with Store.open() as store:
        names = store.exercises_reviewed(client=client, without_client=client is None)
    if not names:
        return None
    ids = list(names)
    return column.selectbox(
        "Exercise",
        ids,
        index=ids.index(wanted.exercise_id) if wanted is not None and wanted.exercise_id in ids else 0,
        format_func=names.__getitem__,
        key=f"cmp_exercise_{client}_{len(ids)}",
    )


def _find_sets(client: int | None, exercise: str) -> tuple[list[StoredReview], bool]:
    """The sets of an exercise, of one client or the newest of those without one, and whether there are more."""
    with Store.open() as store:
        # Without a client there may be a million, of which a few may be there twice.
        limit = 2 * LISTED + 1 if client is None else None
        found = store.list_reviews(
            client=client, without_client=client is None, exercise_id=exercise, with_reps=True, limit=limit
        )
    rows = select_newest(found)
    return rows, len(rows) > LISTED or len(found) == limit


def _choose_before(rows: list[StoredReview], after: StoredReview, kind: Kind) -> StoredReview | None:
    # Sets without a client may each be of another person: none of them is the session before of another.
    own = rows if after.client_id is not None else []
    ways: list[Against] = [how for how in AGAINST if how == "other" or find_other_set(own, after, how) is not None]
    others = rows if kind == "reps" else [row for row in rows if row.id != after.id]
    if not others:
        st.info("There is no other set of this exercise yet to hold it against.")
        return None
    how: Against = "other"
    if len(ways) > 1:
        how = st.segmented_control(
            "Hold it against",
            ways,
            default="other" if kind == "reps" else ways[0],
            required=True,
            format_func=AGAINST.__getitem__,
            key=f"cmp_how_{kind}_{after.id}",
        )
    found = find_other_set(own, after, how)
    if found is not None:
        return found
    offered = list_sets(others, after if kind == "reps" else None)
    return _choose_one(offered, st.container(), "The other set", after, key=f"cmp_before_{kind}_{after.id}")


def _choose_one(
    offered: Sequence[StoredReview], where: DeltaGenerator, label: str, first: StoredReview | None, *, key: str
) -> StoredReview:
    """The set chosen; numbers and words are what the server keeps of a list for every visitor, not the rows."""
    words = {row.id: describe_set(row) for row in offered}
    ids = list(words)
    index = ids.index(first.id) if first is not None and first.id in words else 0
    chosen = where.selectbox(label, ids, index=index, format_func=words.__getitem__, key=key)
    return next(row for row in offered if row.id == chosen)
