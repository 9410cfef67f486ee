"""Part of the comparing page: which set is held against which."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from formcheck.report import wording
from formcheck.report.training_report import is_same_session
from formcheck.report.words import WORDS
from formcheck.storage import Store, StoredReview
from formcheck.web import controls, layout
from formcheck.web.session_state import read_number

Kind = Literal["sets", "halves", "reps"]
KINDS: dict[Kind, str] = {"sets": "Two sets", "halves": "Early and late reps of a set", "reps": "Two reps"}
Relation = Literal["month", "session", "first", "other"]
RELATIONS: dict[Relation, str] = {
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
    rep_numbers: tuple[int, int] | None = None
    """Of each row the rep to compare."""

    @property
    def same_set(self) -> bool:
        """Whether both rows are one set."""
        return self.before.id == self.after.id


def choose_sets(store: Store) -> SetChoice | None:
    """Ask, folded away above what is compared; None, and why, while there is nothing to compare."""
    if not store.exercises_reviewed():
        st.info("There is nothing to compare yet: review a set first.")
        return None
    box = st.expander("Compare other sets or reps")
    told = st.container()
    with box:
        return _ask(store, told)


def _ask(store: Store, told: DeltaGenerator) -> SetChoice | None:
    """What the fields say; what cannot be compared is told where it is seen with the fields folded away."""
    asked_kind = st.query_params.get("kind", "")
    first_kind = next((name for name in KINDS if name == asked_kind), None)
    kind = controls.choose_by_button("What to compare", KINDS, key="cmp_kind", first=first_kind)
    left, middle, right = st.columns([2, 2, 3])
    wanted = _find_requested(store)
    asked_other = _find_other(store, wanted, told)
    client = _choose_client(store, left, wanted)
    names = store.exercises_reviewed(client=client, without_client=client is None)
    if not names:
        told.info("There is no set of this client to compare yet.")
        return None
    asked = wanted.exercise_id if wanted is not None else None
    key = f"cmp_exercise_{client}_{len(names)}"
    exercise = controls.choose_from_list("Exercise", names, key=key, wanted=asked, column=middle)
    # Without a client there may be a million, of which a few may be there twice.
    limit = 2 * LISTED + 1 if client is None else None
    stored = store.list_reviews(
        client=client, without_client=client is None, exercise_id=exercise, with_reps=True, limit=limit
    )
    rows = select_newest(stored)
    if wanted is not None and (wanted.exercise_id, wanted.client_id) != (exercise, client):
        wanted = None
    label = "Set" if kind == "halves" else "Set looked at"
    after = _choose_set(list_sets(rows, wanted), label, wanted, key=f"cmp_after_{client}_{exercise}", column=right)
    if len(rows) > LISTED or len(stored) == limit:
        st.caption(f"Only the newest {LISTED} sets are listed; compare an older one from its review.")
    if wanted is None or after.id != wanted.id:
        asked_other = None
    before = after if kind == "halves" else _choose_before(rows, after, kind, asked_other)
    if before is None:
        whose = "" if client is None else " and client"
        told.info(f"There is no other set of this exercise{whose} yet to compare it with.")
        return None
    choice = SetChoice(kind, before, after)
    if kind != "reps":
        return choice
    one, other = st.columns(2)
    first = _choose_rep(one, before, key=f"cmp_rep_before_{before.id}")
    second = _choose_rep(other, after, key=f"cmp_rep_after_{after.id}", last=choice.same_set)
    return SetChoice(kind, before, after, (first, second))


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


def find_related_sets(rows: Sequence[StoredReview], after: StoredReview) -> dict[Relation, StoredReview]:
    """The sets a set is commonly held against, those there are.

    A month before: the set of the same number in the session nearest to 28 days before, at least 14 days.

    Parameters
    ----------
    rows : sets of one client and exercise.
    """
    earlier = [row for row in rows if row.session_on < after.session_on and row.set_number == after.set_number]
    old = [row for row in earlier if after.session_on - row.session_on >= _MONTH / 2]
    same_day = [row for row in rows if row.session_on == after.session_on and row.set_number < after.set_number]
    found: dict[Relation, StoredReview | None] = {
        "month": min(old, key=lambda row: abs(row.session_on - (after.session_on - _MONTH)), default=None),
        "session": max(earlier, key=lambda row: row.session_on, default=None),
        "first": min(same_day, key=lambda row: row.set_number, default=None),
    }
    return {relation: row for relation, row in found.items() if row is not None}


def describe_set(row: StoredReview) -> str:
    """A set in a list."""
    reps = wording.name_reps(row.complete_reps, row.reps)
    parts = [f"{wording.format_day(row.session_on)}, set {row.set_number}", reps, wording.format_load(row.load_kg)]
    parts.append(row.client or f"“{row.clip_name}”")
    return " · ".join(part for part in parts if part)


def name_set(row: StoredReview) -> str:
    """A set in a sentence."""
    return f"set {row.set_number} of {wording.format_day(row.session_on)}"


def make_labels(before: StoredReview, after: StoredReview) -> tuple[str, str]:
    """Two different names, as short as can be."""
    if is_same_session(before, after):
        names = (f"set {before.set_number}", f"set {after.set_number}")
    else:
        names = (name_set(before), name_set(after))
    return names if names[0] != names[1] else (f"review {before.id}", f"review {after.id}")


def _find_requested(store: Store) -> StoredReview | None:
    """The set the address names, or the newest of the client it names; one that has reps."""
    review, client = read_number("after"), read_number("client")
    found = [] if review is None else store.list_reviews(review_id=review, with_reps=True)
    if not found and client is not None:
        found = store.list_reviews(client=client, with_reps=True, limit=1)
    return found[0] if found else None


def _find_other(store: Store, wanted: StoredReview | None, told: DeltaGenerator) -> StoredReview | None:
    """The set that the address holds the first one against; a sentence on the page where the two are not alike."""
    number = read_number("before")
    found = [] if number is None or wanted is None else store.list_reviews(review_id=number, with_reps=True)
    if wanted is None or not found or found[0].id == wanted.id:
        return None
    other = found[0]
    if other.exercise_id != wanted.exercise_id:
        names = store.exercises_reviewed()
        words = {"before": names[other.exercise_id], "after": names[wanted.exercise_id]}
        told.warning(layout.escape_markdown(WORDS["headline"]["exercise"].format(**words)))
        return None
    if other.client_id != wanted.client_id:
        told.warning(WORDS["headline"]["client"])
        return None
    return other


def _choose_client(store: Store, column: DeltaGenerator, wanted: StoredReview | None) -> int | None:
    """The client chosen; None: the sets without a client."""
    names = {client.id: client.name for client in store.list_clients()}
    if not names:
        return None
    if store.exercises_reviewed(without_client=True):
        names[_NO_CLIENT] = wording.capitalise(wording.NO_CLIENT)
    asked = (wanted.client_id or _NO_CLIENT) if wanted is not None else None
    return controls.choose_from_list("Client", names, key="cmp_client", wanted=asked, column=column) or None


def _choose_before(
    rows: list[StoredReview], after: StoredReview, kind: Kind, asked: StoredReview | None
) -> StoredReview | None:
    # Sets without a client may each be of another person: none of them is the session before of another.
    related = find_related_sets(rows, after) if after.client_id is not None else {}
    others = rows if kind == "reps" else [row for row in rows if row.id != after.id]
    if not others:
        return None
    relation: Relation = "other"
    if related:
        names = {name: RELATIONS[name] for name in (*related, relation)}
        first = relation if kind == "reps" or asked is not None else None
        relation = controls.choose_by_button("Compare with", names, key=f"cmp_how_{kind}_{after.id}", first=first)
    if relation in related:
        return related[relation]
    wanted = asked or (after if kind == "reps" else None)
    offered = list_sets(others, wanted)
    return _choose_set(offered, "The other set", wanted, key=f"cmp_before_{kind}_{after.id}")


def _choose_set(
    offered: Sequence[StoredReview],
    label: str,
    first: StoredReview | None,
    *,
    key: str,
    column: DeltaGenerator | None = None,
) -> StoredReview:
    rows = {row.id: row for row in offered}
    words = {number: describe_set(row) for number, row in rows.items()}
    wanted = None if first is None else first.id
    return rows[controls.choose_from_list(label, words, key=key, wanted=wanted, column=column)]


def _choose_rep(column: DeltaGenerator, row: StoredReview, *, key: str, last: bool = False) -> int:
    """The number of a rep, at first of the first or the last one."""
    most = max(row.complete_reps + row.partial_reps, 1)
    return int(column.number_input(f"Rep of {name_set(row)}", 1, most, most if last else 1, key=key))
