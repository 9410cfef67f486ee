"""Part of the comparing page: which set is held against which."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from formcheck.page.client_list import day_words
from formcheck.report import wording
from formcheck.store import Store, StoredReview
from formcheck.store.home import default_store

Kind = Literal["sets", "halves", "reps"]
KINDS: dict[Kind, str] = {"sets": "Two sets", "halves": "Early and late reps of a set", "reps": "Two reps"}
Against = Literal["month", "session", "first", "other"]
AGAINST: dict[Against, str] = {
    "month": "a month before",
    "session": "the session before",
    "first": "the session's first set",
    "other": "another set",
}
_EVERYBODY = "Everybody"
LISTED = 200
"""So many sets a list offers: the server keeps all of a list for every visitor."""
_MONTH = timedelta(days=28)


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is to be compared; for `halves` and reps of one set both rows are the same."""

    kind: Kind
    before: StoredReview
    after: StoredReview
    before_rep: int | None = None
    after_rep: int | None = None


def choose() -> Chosen | None:
    """Ask; None while there is nothing to compare."""
    with Store.open(default_store()) as store:
        rows = newest_of_each(store.list_reviews())
    if not rows:
        st.info("There is nothing to compare yet: review a set first.")
        return None
    wanted = _wanted(rows)
    kind = st.segmented_control(
        "What to compare", list(KINDS), default="sets", required=True, format_func=KINDS.__getitem__, key="cmp_kind"
    )
    left, middle, right = st.columns([2, 2, 3])
    rows = _of_client(left, rows, wanted)
    rows = _of_exercise(middle, rows, wanted)
    offered = listed(rows, wanted)
    default = next((place for place, row in enumerate(offered) if wanted is not None and row.id == wanted.id), 0)
    words = "Set" if kind == "halves" else "Set looked at"
    after = right.selectbox(
        words, offered, index=default, format_func=row_words, key=f"cmp_after_{rows[0].client_id}_{rows[0].exercise_id}"
    )
    if len(rows) > LISTED:
        st.caption(f"Only the newest {LISTED} of {len(rows)} sets are listed; compare an older one from its review.")
    if kind == "halves":
        return Chosen(kind, after, after)
    before = _before(rows, after, kind)
    if before is None:
        return None
    if kind == "sets":
        return Chosen(kind, before, after)
    reps = st.columns(2)
    numbers = [
        int(column.number_input(words, 1, max(row.complete_reps + row.partial_reps, 1), default, key=f"{key}_{row.id}"))
        for column, words, row, default, key in (
            (reps[0], f"Rep of {short_words(before)}", before, 1, "cmp_rep_before"),
            (
                reps[1],
                f"Rep of {short_words(after)}",
                after,
                max(after.complete_reps + after.partial_reps, 1) if before.id == after.id else 1,
                "cmp_rep_after",
            ),
        )
    ]
    return Chosen(kind, before, after, numbers[0], numbers[1])


def newest_of_each(rows: Sequence[StoredReview]) -> list[StoredReview]:
    """Sets that have reps, the newest session first; a set reviewed twice counts once."""
    seen: dict[tuple[object, ...], StoredReview] = {}
    for row in rows:  # the newest review first
        if row.complete_reps + row.partial_reps:
            # Without a client, set numbers of one day may be of several people: every clip is a set of its own.
            whose = (row.client_id, row.set_number) if row.client_id is not None else (None, row.clip_sha256)
            seen.setdefault((*whose, row.exercise_id, row.session_on), row)
    return sorted(seen.values(), key=lambda row: (row.session_on, row.set_number, row.id), reverse=True)


def listed(rows: list[StoredReview], wanted: StoredReview | None) -> list[StoredReview]:
    """The newest sets, and an older one that is asked for by the page's address."""
    newest = rows[:LISTED]
    return [*newest, wanted] if wanted in rows and wanted not in newest and wanted is not None else newest


def held_against(rows: Sequence[StoredReview], after: StoredReview, how: Against) -> StoredReview | None:
    """The set a choice stands for; None where there is none, or for `other`.

    Parameters
    ----------
    rows : sets of one client and exercise.

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


def row_words(row: StoredReview) -> str:
    """A set in a list."""
    reps = wording.count(row.complete_reps, "rep")
    parts = [f"{day_words(row.session_on)}, set {row.set_number}", reps, wording.load_text(row.load_kg)]
    parts.append(row.client or f"“{row.clip_name}”")
    return " · ".join(part for part in parts if part)


def short_words(row: StoredReview) -> str:
    """A set in a sentence."""
    return f"set {row.set_number} of {day_words(row.session_on)}"


def labels_of(before: StoredReview, after: StoredReview) -> tuple[str, str]:
    """Two different names, as short as can be."""
    if (before.client_id, before.session_on) == (after.client_id, after.session_on):
        names = (f"set {before.set_number}", f"set {after.set_number}")
    else:
        names = (short_words(before), short_words(after))
    if names[0] == names[1]:
        return f"review {before.id}", f"review {after.id}"
    return names


def _wanted(rows: Sequence[StoredReview]) -> StoredReview | None:
    """The set the address names, or the newest of the client it names."""
    for name, place in (("after", "id"), ("client", "client_id")):
        given = st.query_params.get(name, "")
        if given.isdecimal():
            found = next((row for row in rows if getattr(row, place) == int(given)), None)
            if found is not None:
                return found
    return None


def _of_client(column: DeltaGenerator, rows: list[StoredReview], wanted: StoredReview | None) -> list[StoredReview]:
    names = [_EVERYBODY, *sorted({row.client for row in rows if row.client})]
    if len(names) == 1:
        return rows
    index = names.index(wanted.client) if wanted is not None and wanted.client in names else 0
    name = column.selectbox("Client", names, index=index, key="cmp_client")
    return rows if name == _EVERYBODY else [row for row in rows if row.client == name]


def _of_exercise(column: DeltaGenerator, rows: list[StoredReview], wanted: StoredReview | None) -> list[StoredReview]:
    names = dict(reversed([(row.exercise_id, row.exercise_name) for row in rows]))
    ids = list(names)
    default = wanted.exercise_id if wanted is not None else rows[0].exercise_id
    chosen = column.selectbox(
        "Exercise",
        ids,
        index=ids.index(default) if default in ids else 0,
        format_func=names.__getitem__,
        key=f"cmp_exercise_{rows[0].client_id}_{len(ids)}",
    )
    return [row for row in rows if row.exercise_id == chosen]


def _before(rows: list[StoredReview], after: StoredReview, kind: Kind) -> StoredReview | None:
    own = [row for row in rows if row.client_id == after.client_id]
    ways: list[Against] = [how for how in AGAINST if how == "other" or held_against(own, after, how) is not None]
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
    found = held_against(own, after, how)
    if found is not None:
        return found
    offered = listed(others, after if kind == "reps" else None)
    default = offered.index(after) if after in offered else 0
    return st.selectbox(
        "The other set", offered, index=default, format_func=row_words, key=f"cmp_before_{kind}_{after.id}"
    )
