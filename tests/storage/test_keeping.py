"""What is saved comes back whole, listed by what it holds."""

import dataclasses
import sqlite3
import threading
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from formcheck.core.errors import ReviewFormatError, StoreError
from formcheck.core.model import Grade, Point, Review
from formcheck.storage import Store, StoredReview
from formcheck.verdicts import VERDICT_OF
from tests.storage.conftest import NOON, one_sentence


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """In a folder that is not there yet."""
    return tmp_path / "folder" / "reviews.sqlite"


def test_a_saved_review_comes_back_as_it_was(store: Store, path: Path, review: Review) -> None:
    number = store.save_review(review, created_at=NOON, client="Invented Client", clip_path=Path("clips") / "a.mp4")
    assert store.load_review(number) == review
    with Store.open(path) as again:
        assert again.load_review(number) == review
        assert again.check() == 1


def test_the_list_shows_what_the_review_holds(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON, client="Invented Client", clip_path="clips/a.mp4")
    assert store.list_reviews() == [
        StoredReview(
            id=number,
            created_at=NOON,
            client="Invented Client",
            clip_path="clips/a.mp4",
            clip_name=review.clip.name,
            clip_sha256=review.clip.sha256,
            exercise_id="lateral-raise",
            exercise_name="Lateral raise to shoulder height",
            view="front",
            load_kg=7.5,
            target_reps=3,
            complete_reps=2,
            partial_reps=1,
            met=0,
            not_met=1,
            undecided=1,
            client_id=store.get_client("Invented Client").id,
            variation=None,
            session_on=NOON.astimezone().date(),
            set_number=1,
            by_hand=False,
        )
    ]


def test_when_a_review_was_seen_and_done_is_noted_and_taken_back(store: Store, review: Review) -> None:
    first, second = (store.save_review(review, created_at=NOON) for _ in range(2))
    later = NOON + timedelta(hours=1)
    store.mark_reviews([first, 999], seen_at=NOON)
    store.mark_reviews([first, second], seen_at=later, done_at=later)
    rows = {row.id: (row.seen_at, row.done_at) for row in store.list_reviews()}
    assert rows == {first: (NOON, later), second: (later, later)}  # when it was first seen stays
    store.mark_reviews([second], seen_at=None, done_at=None)
    assert [row.id for row in store.list_reviews(marked="done_at")] == [first]
    with pytest.raises(ValueError, match="clip_path"):
        store.mark_reviews([first], clip_path=later)


def test_the_list_says_how_many_points_are_only_probable_or_too_close(store: Store, review: Review) -> None:
    grades: tuple[Grade | None, ...] = ("met", "probably_met", "probably_met", "probably_not_met", "close", None)
    points = tuple(
        Point(f"check-{number}", "level", VERDICT_OF[grade] if grade else "undecided", grade, None, (1, 2), ())
        for number, grade in enumerate(grades)
    )
    store.save_review(dataclasses.replace(review, points=points), created_at=NOON)
    (row,) = store.list_reviews()
    assert (row.met, row.probably_met) == (3, 2)
    assert (row.not_met, row.probably_not_met) == (1, 1)
    assert (row.undecided, row.too_close) == (2, 1)


def test_a_page_can_ask_what_is_there_without_reading_all_of_it(store: Store, review: Review) -> None:
    def keep(exercise: str, day: int, *, client: str | None, reps: bool = True, name: str = "Some raise") -> int:
        is_a = dataclasses.replace(review.exercise, id=exercise, name=name)
        kept = dataclasses.replace(review, exercise=is_a, reps=review.reps if reps else ())
        return store.save_review(kept, created_at=NOON + timedelta(days=day), client=client)

    first = keep("front-raise", 0, client="Ada", name="An older name")
    keep("lateral-raise", 1, client=None)
    empty = keep("squat", 2, client="Ada", reps=False)
    last = keep("front-raise", 3, client="Ada", name="Front raise")
    ada = store.get_client("Ada").id
    assert list(store.exercises_reviewed().items()) == [
        ("front-raise", "Front raise"),
        ("lateral-raise", "Some raise"),
    ]
    assert store.exercises_reviewed(client=ada) == {"front-raise": "Front raise"}
    assert store.exercises_reviewed(client=ada + 1) == {}
    assert [row.id for row in store.list_reviews(client=ada, with_reps=True)] == [last, first]
    assert empty in [row.id for row in store.list_reviews(client=ada)]
    assert [store.count_reviews(), store.count_reviews(client=ada)] == [4, 3]
    assert store.count_reviews(exercise_id="front-raise", client=ada) == 2
    assert store.count_reviews(exercise_id="no such") == 0


def test_the_newest_comes_first_and_filters_hold_together(store: Store, review: Review) -> None:
    other = dataclasses.replace(review, exercise=dataclasses.replace(review.exercise, id="overhead-lateral-raise"))
    late = store.save_review(review, created_at=NOON + timedelta(hours=2), client="A")
    early = store.save_review(other, created_at=NOON, client="A")
    middle = store.save_review(review, created_at=NOON + timedelta(hours=1), client="B")
    assert [row.id for row in store.list_reviews()] == [late, middle, early]
    assert [row.id for row in store.list_reviews(limit=1)] == [late]
    assert [row.id for row in store.list_reviews(client="A")] == [late, early]
    assert [row.id for row in store.list_reviews(client="A", exercise_id="overhead-lateral-raise")] == [early]
    assert [row.id for row in store.list_reviews(clip_sha256=review.clip.sha256)] == [late, middle, early]
    assert store.list_reviews(clip_sha256="0" * 64) == []
    assert [row.id for row in store.list_reviews(review_id=middle)] == [middle]


def test_the_same_review_may_be_kept_twice(store: Store, review: Review) -> None:
    first, second = (store.save_review(review, created_at=NOON) for _ in range(2))
    assert first != second
    assert store.check() == 2


def test_a_moment_is_kept_whatever_its_zone(store: Store, review: Review) -> None:
    there = datetime(2026, 3, 1, 23, 30, 15, 250_000, tzinfo=timezone(timedelta(hours=-7)))
    store.save_review(review, created_at=there)
    row = store.list_reviews()[0]
    assert row.created_at == there
    assert row.created_at.utcoffset() == timedelta(0)


def test_a_moment_without_zone_is_refused(store: Store, review: Review) -> None:
    with pytest.raises(StoreError, match="time zone"):
        store.save_review(review, created_at=datetime(2026, 3, 1))
    assert store.list_reviews() == []


def test_a_deleted_review_is_gone_and_its_number_is_not_given_again(store: Store, path: Path, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    store.delete_review(number)
    assert store.list_reviews() == []
    with pytest.raises(StoreError, match=f"no review {number}"):
        store.load_review(number)
    with pytest.raises(StoreError, match=f"no review {number}"):
        store.delete_review(number)
    assert store.save_review(review, created_at=NOON) > number
    with sqlite3.connect(path) as raw:
        assert raw.execute("SELECT count(*) FROM documents").fetchone() == (1,)
    raw.close()


@pytest.mark.parametrize("number", [0, -1, 10**30])
def test_a_number_nobody_was_told_is_one_sentence(store: Store, number: int) -> None:
    with pytest.raises(StoreError) as caught:
        store.load_review(number)
    one_sentence(caught.value)


def test_names_that_utf8_cannot_carry_do_not_stop_a_review(store: Store, review: Review) -> None:
    clip = dataclasses.replace(review.clip, name="set\udcff.mp4")
    number = store.save_review(
        dataclasses.replace(review, clip=clip),
        created_at=NOON,
        client="A\ud800",
        clip_path="folder\udcfe/set\udcff.mp4",
    )
    row = store.list_reviews()[0]
    assert (row.clip_name, row.client, row.clip_path) == ("set?.mp4", "A?", "folder?/set?.mp4")
    assert store.load_review(number).clip.name == "set?.mp4"


def test_a_review_with_a_nan_is_not_kept(store: Store, review: Review) -> None:
    broken = dataclasses.replace(review, quality=dataclasses.replace(review.quality, tracked_share=float("nan")))
    with pytest.raises(ReviewFormatError):
        store.save_review(broken, created_at=NOON)
    assert store.list_reviews() == []


def test_threads_may_share_a_store(store: Store, review: Review) -> None:
    numbers: list[int] = []

    def work() -> None:
        for _ in range(5):
            numbers.append(store.save_review(review, created_at=NOON))
            store.list_reviews(limit=3)

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(numbers)) == 30
    assert store.check() == 30


def test_days_with_sessions_are_counted_for_each_client(store: Store, review: Review) -> None:
    for client, day in (("Ada", 3), ("Ada", 3), ("Ada", 1), ("Bea", 2), (None, 9)):
        store.save_review(review, created_at=NOON, client=client, session_on=date(2026, 3, day))
    store.add_client("Cy", created_at=NOON)
    ada, bea = (store.get_client(name).id for name in ("Ada", "Bea"))
    assert store.session_days() == {ada: (date(2026, 3, 3), 2), bea: (date(2026, 3, 2), 1)}


def test_reviews_are_found_by_a_part_of_a_name(store: Store, review: Review) -> None:
    def keep(client: str | None, exercise: str, clip: str) -> int:
        of = dataclasses.replace(review.exercise, name=exercise)
        named = dataclasses.replace(review, exercise=of, clip=dataclasses.replace(review.clip, name=clip))
        return store.save_review(named, created_at=NOON, client=client)

    zoe = keep("Zoë O'Invented", "Squat", "a.mp4")
    nobody = keep(None, "Front raise", "Evening 100%.mp4")
    other = keep("Ada", "Squat", "b_c.mp4")

    def found(part: str) -> list[int]:
        return [row.id for row in store.list_reviews(containing=part)]

    assert found(" ZOË ") == [zoe]
    assert found("squat") == [other, zoe]
    assert found("evening") == [nobody]
    assert found("100%") == [nobody]
    assert found("b_c") == [other]
    assert found("%") == [nobody]  # a sign like any other
    assert found("_") == [other]
    assert found("nothing of that name") == []
    assert len(found("  ")) == 3
