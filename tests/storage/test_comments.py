"""What the coach says is stored whole, found damaged where it is, and goes with its review."""

import io
import wave
from pathlib import Path

import pytest

from formcheck.coaching.comment import LONGEST_COMMENT, LONGEST_VOICE_S, CoachComment, clean_voice
from formcheck.core.errors import StoreError, UsageError
from formcheck.core.model import Review
from formcheck.storage import Store
from tests.storage.conftest import NOON
from tests.storage.voice import spoken

SAID = CoachComment("Elbows first.", 3.25, (((10.0, 20.5), (30.0, 40.0)), ((1.0, 1.0),)))


def test_comments_come_back_in_the_order_of_their_moments(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    later = store.add_comment(number, CoachComment("Slower.", 9.0), created_at=NOON)
    first = store.add_comment(number, SAID, voice=spoken(), created_at=NOON)
    whole = store.add_comment(number, CoachComment("Well done."), created_at=NOON)
    found = store.comments_of(number)
    assert [item.id for item in found] == [whole, first, later]
    assert [item.has_voice for item in found] == [False, True, False]
    assert found[1].comment == SAID
    with wave.open(io.BytesIO(store.voice_of(first))) as file:
        assert (file.getnframes(), file.getframerate()) == (1600, 8000)
    store.delete_comment(first)
    assert [item.id for item in store.comments_of(number)] == [whole, later]
    for wrong in (lambda: store.voice_of(first), lambda: store.delete_comment(first)):
        with pytest.raises(StoreError, match="There is no"):
            wrong()
    with pytest.raises(StoreError, match="no review 77"):
        store.add_comment(77, SAID, created_at=NOON)


def test_they_go_with_their_review_and_leave_nothing_in_the_file(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    store.add_comment(number, CoachComment("Qwertzuiop once"), voice=spoken(), created_at=NOON)
    store.delete_review(number)
    assert store.comments_of(number) == []
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM comments").scalar() == 0
    assert b"Qwertzuiop" not in Path(store.location).read_bytes()


@pytest.mark.parametrize(
    "change", ["voice = X'00'", "strokes = '[[[1]]]'", "text = ''"], ids=["voice", "strokes", "text"]
)
def test_damage_is_noticed(store: Store, review: Review, change: str) -> None:
    number = store.save_review(review, created_at=NOON)
    store.add_comment(number, SAID, voice=spoken(), created_at=NOON)
    assert store.check() == 1
    with store.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE comments SET {change}")
    with pytest.raises(StoreError, match="damaged"):
        store.check()


def test_a_voice_note_keeps_nothing_but_its_sound() -> None:
    made = clean_voice(spoken(extra=b"INFOIART recorded by somebody at home "))
    assert b"somebody" not in made
    assert made == clean_voice(spoken())


@pytest.mark.parametrize(
    ("wav", "why"),
    [
        (b"", "cannot be read"),
        (b"RIFF\x00\x00\x00\x00WAVE", "cannot be read"),
        (b"\x00" * 400, "cannot be read"),
        (spoken(0.0), "empty"),
        (spoken(LONGEST_VOICE_S + 1, rate=4000), f"at most {LONGEST_VOICE_S} seconds"),
        (spoken(rate=96_000), "cannot be used"),
    ],
)
def test_what_is_no_voice_note_is_refused(wav: bytes, why: str) -> None:
    with pytest.raises(UsageError, match=why):
        clean_voice(wav)


@pytest.mark.parametrize(
    "wrong",
    [
        {"text": ""},
        {"text": "w" * (LONGEST_COMMENT + 1)},
        {"text": "a", "at_s": float("nan")},
        {"text": "a", "at_s": -1.0},
        {"text": "a", "strokes": (((1.0, 2.0),),)},
        {"text": "a", "at_s": 1.0, "strokes": ((),)},
        {"text": "a", "at_s": 1.0, "strokes": (((float("inf"), 2.0),),)},
        {"text": "a", "at_s": 1.0, "strokes": (((1.0, 2.0),),) * 61},
    ],
)
def test_what_is_no_comment_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(UsageError):
        CoachComment(**wrong)  # type: ignore[arg-type]
