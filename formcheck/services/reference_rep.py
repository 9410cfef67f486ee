"""The reference rep of a client: chosen, taken back, and other sets held against it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import cast

from formcheck.core.errors import StoreError, UsageError
from formcheck.core.model import Rep, Review, ViewName
from formcheck.report.problem_text import is_blocked, is_review_blocked
from formcheck.report.reference_text import (
    describe_in_short,
    describe_other_side,
    describe_own_in_short,
    write_reason,
)
from formcheck.report.wording import is_view_known
from formcheck.statistics.reference_rep import compare_with_reference, find_view
from formcheck.storage import Store
from formcheck.storage.rows import StoredReferenceRep, StoredReview


def choose_reference_rep(store: Store, review_id: int, number: int, *, created_at: datetime) -> None:
    """Hold the client's other sets of this exercise and camera side against a rep (UsageError, StoreError).

    A rep that is partial, or of a clip's part that was filmed from another side, can be none.
    """
    review = store.load_review(review_id)
    rep = next((item for item in review.reps if item.number == number), None)
    if rep is None:
        raise UsageError(write_reason("no-rep", rep=number, review=review_id))
    if not rep.complete:
        raise UsageError(write_reason("partial", rep=number))
    if is_review_blocked(review) or not is_view_known(review.view):
        raise UsageError(write_reason("blocked", review=review_id))
    if find_view(review, number).name != review.view.name:
        raise UsageError(write_reason("other-part", rep=number))
    store.set_reference_rep(review_id, round(rep.top_s, 3), created_at=created_at)


def find_own_reference_rep(store: Store, review_id: int, review: Review) -> int | None:
    """Number of the set's rep that others are held against (StoreError); None where none is."""
    held = _find_held(store, review_id, review)
    rep = None if held is None or held.review_id != review_id else _find_rep(review, held)
    return None if rep is None else rep.number


def attach_reference(store: Store, review_id: int, review: Review) -> Review:
    """A stored review with its set held against the client's reference rep, where one can be read (StoreError)."""
    held = _find_held(store, review_id, review)
    if held is None or held.review_id == review_id or not review.reps or is_review_blocked(review):
        return review
    try:
        return hold_against(store, review, held)
    except (UsageError, StoreError):  # its rep is gone or its review damaged, which `explain_no_reference` says
        return review


def hold_against(store: Store, review: Review, held: StoredReferenceRep) -> Review:
    """A review with its set held against a reference rep (StoreError; UsageError where that cannot be)."""
    reference = store.load_review(held.review_id)
    rep = _find_rep(reference, held)
    if rep is None:
        raise UsageError(write_reason("rep-gone", review=held.review_id))
    found = compare_with_reference(review, reference, rep.number, session_on=held.session_on)
    return replace(review, reference=found)


def list_in_short(
    store: Store, rows: Sequence[StoredReview], loaded: Mapping[int, Review] | None = None
) -> dict[int, str]:
    """What differs in stored sets from their client's reference rep, a few words a set, by number (StoreError).

    Sets that are held against none are left out, and so are those that cannot be read.

    Parameters
    ----------
    loaded : reviews of these rows that are read already.
    """
    clients = {row.client_id for row in rows if row.client_id is not None}
    held = {
        (item.client_id, item.exercise_id, item.view): item
        for client in sorted(clients)
        for item in store.list_reference_reps(client=client)
    }
    read = dict(loaded or {})
    found = {}
    for row in rows:
        mine = held.get((row.client_id or 0, row.exercise_id, cast(ViewName, row.view)))
        if mine is None or is_blocked(row.problem_codes):
            continue
        try:
            for number in {row.id, mine.review_id} - read.keys():
                read[number] = store.load_review(number)
            rep = _find_rep(read[mine.review_id], mine)
            if rep is None or not read[row.id].reps:
                continue
            if row.id == mine.review_id:
                found[row.id] = describe_own_in_short(rep.number)
                continue
            reference = read[mine.review_id]
            compared = compare_with_reference(read[row.id], reference, rep.number, session_on=mine.session_on)
            found[row.id] = describe_in_short(compared)
        except (UsageError, StoreError):  # told where that set is opened
            continue
    return found


def hold_against_review(store: Store, review_id: int, other_id: int) -> Review:
    """A stored review held against the reference rep of another (StoreError).

    Raises UsageError where the other is of another client, exercise or camera side, or none of its reps is one.
    """
    review = store.load_review(review_id)
    store.load_review(other_id)  # raises where there is none
    (row,) = store.list_reviews(review_id=review_id)
    held = next((item for item in store.list_reference_reps() if item.review_id == other_id), None)
    if held is None:
        raise UsageError(write_reason("none-there", review=other_id))
    if row.client_id != held.client_id:
        raise UsageError(write_reason("other-client", review=other_id, other=review_id))
    if review_id == other_id:
        raise UsageError(write_reason("same-set", review=review_id))
    return hold_against(store, review, held)


def explain_no_reference(store: Store, review_id: int, review: Review) -> str:
    """Why a set of a client who has a reference rep of the exercise is held against none; empty where all is well."""
    (row,) = store.list_reviews(review_id=review_id)
    if row.client_id is None or not review.reps:
        return ""
    listed = store.list_reference_reps(client=row.client_id, exercise_id=row.exercise_id)
    held = next((item for item in listed if item.view == review.view.name), None)
    if held is not None:
        try:
            gone = _find_rep(store.load_review(held.review_id), held) is None
        except StoreError:
            return write_reason("damaged", review=held.review_id)
        return write_reason("rep-gone", review=held.review_id) if gone else ""
    return describe_other_side(listed[0].view, review.view.name) if listed else ""


def _find_held(store: Store, review_id: int, review: Review) -> StoredReferenceRep | None:
    (row,) = store.list_reviews(review_id=review_id)
    return None if row.client_id is None else store.find_reference_rep(row.client_id, row.exercise_id, review.view.name)


def _find_rep(review: Review, held: StoredReferenceRep) -> Rep | None:
    return next((rep for rep in review.reps if rep.complete and rep.start_s <= held.rep_s <= rep.end_s), None)
