"""A set is held against the client's reference rep: what is told, what is refused, and what a new count keeps."""

import dataclasses
from collections.abc import Callable
from datetime import date

import jsonschema
import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.errors import StoreError, UsageError
from formcheck.core.model import Review
from formcheck.core.vocabulary import get_title
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode, encode, make_document, make_review_schema
from formcheck.report.reference_text import describe_comparison, describe_in_short
from formcheck.services.reference_rep import (
    attach_reference,
    choose_reference_rep,
    explain_no_reference,
    find_own_reference_rep,
    hold_against_review,
    list_in_short,
)
from formcheck.statistics.reference_rep import MOST_YAW_DEG, compare_with_reference
from formcheck.storage import Store
from tests import lifter
from tests.facts import says
from tests.storage.conftest import NOON, one_sentence

RAISE = get_exercise("lateral-raise")
HEIGHT = "arm_line_raise_peak"
MakeSet = Callable[..., Review]


@pytest.fixture(scope="module")
def make_set() -> MakeSet:
    """The invented lifter raising the arms to this angle in every rep."""

    def make(top: float, number: int = 1, reps: int = 5) -> Review:
        plan = lifter.Set((top,) * reps)
        t = lifter.times(plan.length_s)
        made = lifter.film(t, left=plan.course(t), right=plan.course(t))
        review = analyse(made, RAISE).review
        return dataclasses.replace(review, clip=dataclasses.replace(review.clip, sha256=f"{number:064x}"))

    return make


@pytest.fixture(scope="module")
def good(make_set: MakeSet) -> Review:
    return make_set(90.0)


@pytest.fixture(scope="module")
def low(make_set: MakeSet) -> Review:
    return make_set(75.0, 2)


def keep(store: Store, review: Review, client: str | None = "Ada") -> int:
    return store.save_review(review, created_at=NOON, client=client, session_on=date(2026, 3, 1))


def turned(review: Review, by: float) -> Review:
    assert review.view.yaw_deg is not None
    return dataclasses.replace(review, view=dataclasses.replace(review.view, yaw_deg=review.view.yaw_deg + by))


def test_a_lower_set_is_told_with_its_margin(store: Store, good: Review, low: Review) -> None:
    first, second = keep(store, good), keep(store, low)
    choose_reference_rep(store, first, 2, created_at=NOON)
    found = attach_reference(store, second, store.load_review(second)).reference
    assert found is not None
    assert (found.rep, found.session_on, found.clip_sha256, found.alike) == (
        2, date(2026, 3, 1), good.clip.sha256, True,
    )  # fmt: skip
    (height,) = [item for item in found.differences if item.measure == HEIGHT]
    assert height.difference == pytest.approx(-15.0, abs=1.5)  # the truth: 75 less 90 degrees
    assert height.told
    assert 0 < height.margin < 8.0
    assert len(height.by_rep) == len(height.reps) == 5
    assert np.mean(height.by_rep) == pytest.approx(height.difference)
    said = describe_comparison(found)
    assert any("less than the reference rep" in sentence for sentence in said)
    assert any("rep 2 of 1 Mar 2026" in sentence for sentence in said)
    assert find_own_reference_rep(store, first, store.load_review(first)) == 2
    assert attach_reference(store, first, store.load_review(first)).reference is None


def test_an_equal_set_is_told_nothing_of(store: Store, good: Review, make_set: MakeSet) -> None:
    first, second = keep(store, good), keep(store, make_set(90.0, 3))
    choose_reference_rep(store, first, 1, created_at=NOON)
    found = attach_reference(store, second, store.load_review(second)).reference
    assert found is not None
    assert found.differences
    assert not any(item.told for item in found.differences)
    assert "No difference from the reference rep can be told" in " ".join(describe_comparison(found))


def test_a_camera_beyond_ten_degrees_is_told_and_nothing_compared(store: Store, good: Review, low: Review) -> None:
    choose_reference_rep(store, keep(store, good), 1, created_at=NOON)
    second = keep(store, turned(low, MOST_YAW_DEG + 2))
    found = attach_reference(store, second, store.load_review(second)).reference
    assert found is not None
    assert not found.alike
    assert found.differences == ()
    assert found.yaw_difference_deg == pytest.approx(MOST_YAW_DEG + 2, abs=1.0)
    assert "nothing is compared" in " ".join(describe_comparison(found))
    unknown = dataclasses.replace(low, view=dataclasses.replace(low.view, yaw_deg=None))
    assert not compare_with_reference(unknown, good, 1, session_on=date(2026, 3, 1)).alike


def test_what_can_be_none_is_refused_in_one_sentence(store: Store, good: Review, low: Review) -> None:
    first, second = keep(store, good), keep(store, low)
    partial = dataclasses.replace(good, reps=(dataclasses.replace(good.reps[0], complete=False), *good.reps[1:]))
    nobody, halves = keep(store, good, client=None), keep(store, partial)
    for wrong in (
        lambda: choose_reference_rep(store, first, 99, created_at=NOON),
        lambda: choose_reference_rep(store, nobody, 1, created_at=NOON),
        lambda: choose_reference_rep(store, halves, 1, created_at=NOON),
        lambda: hold_against_review(store, second, first),  # none was chosen there
    ):
        with pytest.raises(UsageError) as caught:
            wrong()
        one_sentence(caught.value)
    assert store.list_reference_reps() == []


def test_another_client_exercise_or_side_is_refused_in_one_sentence(store: Store, good: Review, low: Review) -> None:
    first = keep(store, good)
    choose_reference_rep(store, first, 1, created_at=NOON)
    bea = keep(store, low, "Bea")
    side = keep(store, dataclasses.replace(low, view=dataclasses.replace(low.view, name="left")))
    squat = keep(store, dataclasses.replace(low, exercise=dataclasses.replace(low.exercise, id="squat", name="Squat")))
    said = []
    for number in (bea, side, squat, first):
        with pytest.raises(UsageError) as caught:
            hold_against_review(store, number, first)
        said.append(one_sentence(caught.value))
    assert "another client" in said[0]
    assert "side" in said[1]
    assert "Squat" in said[2]
    with pytest.raises(StoreError, match="no review 99"):
        hold_against_review(store, 99, first)
    why = explain_no_reference(store, side, store.load_review(side))
    assert "from the front" in why
    assert "nothing is compared" in why
    assert attach_reference(store, bea, store.load_review(bea)).reference is None
    assert explain_no_reference(store, bea, store.load_review(bea)) == ""
    assert hold_against_review(store, keep(store, low), first).reference is not None


def test_reps_counted_anew_keep_it_and_one_that_is_gone_is_said(store: Store, good: Review, low: Review) -> None:
    from formcheck.reps.edits import Edits, leave_out

    first, second = keep(store, good), keep(store, low)
    choose_reference_rep(store, first, 3, created_at=NOON)
    fewer = dataclasses.replace(
        good,
        reps=tuple(dataclasses.replace(rep, number=rep.number - 1) for rep in good.reps[1:]),
        measures=tuple(
            dataclasses.replace(item, rep=item.rep - 1)
            for item in good.measures
            if item.rep is not None and item.rep > 1
        ),
    )
    store.save_revision(first, leave_out(Edits(), 0, 1), fewer, created_at=NOON)
    found = attach_reference(store, second, store.load_review(second)).reference
    assert found is not None
    assert found.rep == 2
    gone = dataclasses.replace(good, reps=good.reps[:1])
    store.save_revision(first, leave_out(Edits(), 0, 1), gone, created_at=NOON)
    assert attach_reference(store, second, store.load_review(second)).reference is None
    assert "choose another one" in explain_no_reference(store, second, store.load_review(second))


def test_it_is_written_into_documents_and_never_stored(store: Store, good: Review, low: Review) -> None:
    first, second = keep(store, good), keep(store, low)
    choose_reference_rep(store, first, 1, created_at=NOON)
    held = attach_reference(store, second, store.load_review(second))
    document = make_document(held)
    jsonschema.Draft202012Validator(make_review_schema()).validate(document)
    assert document["reference"]["session_on"] == "2026-03-01"
    again = decode(encode(held))
    assert again.reference is not None
    assert again.reference.rep == 1
    assert encode(again) == encode(held)
    stored = keep(store, held)
    assert store.load_review(stored).reference is None


def test_measures_of_their_own_set_are_left_out(good: Review, low: Review) -> None:
    found = compare_with_reference(low, good, 1, session_on=date(2026, 3, 1))
    assert "range_share" in {item.measure for item in low.findings}
    assert "range_share" not in {item.measure for item in found.differences}


def test_a_damaged_reference_keeps_no_other_review_from_being_read(store: Store, good: Review, low: Review) -> None:
    first, second = keep(store, good), keep(store, low)
    choose_reference_rep(store, first, 1, created_at=NOON)
    with store.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE documents SET body = '{{' WHERE review_id = {first}")
    review = store.load_review(second)
    assert attach_reference(store, second, review) == review
    assert "cannot be read" in explain_no_reference(store, second, review)


def test_every_set_of_a_list_is_told_in_short(store: Store, good: Review, low: Review, make_set: MakeSet) -> None:
    first, second = keep(store, good), keep(store, low)
    equal, far, bea = keep(store, make_set(90.0, 3)), keep(store, turned(low, 20.0)), keep(store, low, "Bea")
    side = keep(store, dataclasses.replace(low, view=dataclasses.replace(low.view, name="left")))
    assert list_in_short(store, store.list_reviews()) == {}
    choose_reference_rep(store, first, 2, created_at=NOON)
    found = list_in_short(store, store.list_reviews())
    assert found.keys() == {first, second, equal, far}
    assert bea not in found
    assert side not in found
    assert (found[first], found[equal], found[far]) == (
        "its rep 2 is the reference",
        "no difference",
        "camera elsewhere",
    )
    told = [item for item in hold_against_review(store, second, first).reference.differences if item.told]  # type: ignore[union-attr]
    most = max(told, key=lambda item: abs(item.difference) / item.margin)
    assert says(found[second], get_title(most.measure), f"{abs(most.difference):.0f}°", "less")
    assert found[second].endswith(f", {len(told) - 1} more") == (len(told) > 1)
    bare = dataclasses.replace(hold_against_review(store, second, first).reference, differences=())  # type: ignore[type-var]
    assert describe_in_short(bare) == "nothing to compare"  # type: ignore[arg-type]
    # What is read already is not read again.
    rows = store.list_reviews(client="Ada")
    assert list_in_short(store, rows, {row.id: store.load_review(row.id) for row in rows}) == found


def test_a_damaged_set_keeps_no_other_out_of_a_list(store: Store, good: Review, low: Review) -> None:
    first, second, third = keep(store, good), keep(store, low), keep(store, low)
    choose_reference_rep(store, first, 2, created_at=NOON)
    with store.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE documents SET body = '{}' WHERE review_id = ?", (second,))
    assert list_in_short(store, store.list_reviews()).keys() == {first, third}
