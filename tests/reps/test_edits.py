"""Corrections by hand: what a person says holds, everything else follows from the same landmarks."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formcheck.analysis import analyse
from formcheck.core.errors import ReviewFormatError, UsageError
from formcheck.core.model import LandmarkRecording, Review, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode, encode
from formcheck.formats.stored_json import decode_edits, encode_edits
from formcheck.reps.edits import (
    Edits,
    Placed,
    Stretch,
    add_rep,
    delete_rep,
    leave_out,
    move_rep,
    set_exercise,
)
from tests import lifter, shelf

RAISE, SQUAT = get_exercise("lateral-raise"), get_exercise("squat")
EXACT = Settings(correct_landmarks=False, fit_body=False)
PLAN = lifter.Set((90.0, 88.0, 92.0, 90.0))


@pytest.fixture(scope="module")
def film() -> LandmarkRecording:
    t = lifter.times(PLAN.length_s)
    arm = PLAN.course(t)
    return lifter.film(t, left=arm, right=arm)


def reviewed(film: LandmarkRecording, edits: Edits | None = None) -> Review:
    return analyse(film, RAISE, settings=EXACT, edits=edits).review


@pytest.fixture(scope="module")
def plain(film: LandmarkRecording) -> Review:
    return reviewed(film)


def test_no_correction_changes_nothing(film: LandmarkRecording, plain: Review) -> None:
    assert reviewed(film, Edits()) == plain
    assert plain.by_hand == ()
    assert not any(rep.by_hand for rep in plain.reps)
    assert len(plain.reps) == 4


def test_a_moved_start_lengthens_the_lift_by_as_much(film: LandmarkRecording, plain: Review) -> None:
    rep = plain.reps[1]
    moved = reviewed(film, move_rep(Edits(), plain.reps, 2, start_s=rep.start_s - 0.2))
    assert moved.reps[1].start_s == rep.start_s - 0.2
    assert moved.reps[1].tempo.concentric_s == pytest.approx(rep.tempo.concentric_s + 0.2, abs=0.04)
    assert moved.reps[0].tempo.bottom_pause_s == pytest.approx(plain.reps[0].tempo.bottom_pause_s - 0.2)
    before, after = (item.measure("concentric_time", rep=2) for item in (plain, moved))
    assert before is not None
    assert after is not None
    assert after.value == moved.reps[1].tempo.concentric_s
    assert [item.by_hand for item in moved.reps] == [False, True, False, False]
    assert moved.by_hand == (f"Rep 2 (0:{rep.start_s - 0.2:04.1f} to 0:{rep.end_s:04.1f}) has its times set by hand.",)
    # What the correction does not touch stays as it was.
    for number in (0, 2, 3):
        assert moved.reps[number].top_s == plain.reps[number].top_s
        assert moved.reps[number].complete == plain.reps[number].complete


def test_a_rep_moved_twice_keeps_the_last_word(film: LandmarkRecording, plain: Review) -> None:
    first = move_rep(Edits(), plain.reps, 3, end_s=plain.reps[2].end_s - 0.3)
    between = reviewed(film, first)
    second = move_rep(first, between.reps, 3, end_s=plain.reps[2].end_s - 0.1, top_s=plain.reps[2].top_s + 0.1)
    after = reviewed(film, second)
    assert len(second.placed) == 1
    assert after.reps[2].end_s == pytest.approx(plain.reps[2].end_s - 0.1)
    assert after.reps[2].top_s == pytest.approx(plain.reps[2].top_s + 0.1, abs=1 / 60)
    assert len(after.reps) == 4


def test_a_deleted_rep_is_gone_and_the_others_are_numbered_anew(film: LandmarkRecording, plain: Review) -> None:
    edits = delete_rep(Edits(), plain.reps, 2)
    after = reviewed(film, edits)
    assert [rep.start_s for rep in after.reps] == [plain.reps[index].start_s for index in (0, 2, 3)]
    assert [rep.number for rep in after.reps] == [1, 2, 3]
    assert after.measure("arm_raise_peak", rep=4, side="left") is None
    assert "was deleted" in after.by_hand[0]
    # A second deletion speaks of the numbers as they now are.
    again = reviewed(film, delete_rep(edits, after.reps, 2))
    assert [rep.start_s for rep in again.reps] == [plain.reps[index].start_s for index in (0, 3)]


def test_deleting_a_rep_set_by_hand_does_not_bring_the_machine_s_back(film: LandmarkRecording, plain: Review) -> None:
    moved = move_rep(Edits(), plain.reps, 2, start_s=plain.reps[1].start_s + 0.1)
    gone = delete_rep(moved, reviewed(film, moved).reps, 2)
    assert gone.placed == ()
    assert [rep.start_s for rep in reviewed(film, gone).reps] == [plain.reps[index].start_s for index in (0, 2, 3)]


def test_a_rep_deleted_and_added_again_has_the_same_numbers(film: LandmarkRecording, plain: Review) -> None:
    """The machine's own times, put in by hand, give the machine's own phases and angles back."""
    rep = plain.reps[2]
    edits = delete_rep(Edits(), plain.reps, 3)
    edits = add_rep(edits, reviewed(film, edits).reps, rep.start_s, rep.end_s)
    after = reviewed(film, edits)
    assert after.reps[2].by_hand
    assert after.reps[2].complete
    assert after.reps[2].top_s == pytest.approx(rep.top_s, abs=1 / 60)
    for phase in ("eccentric_s", "bottom_pause_s", "concentric_s", "top_pause_s"):
        assert getattr(after.reps[2].tempo, phase) == pytest.approx(getattr(rep.tempo, phase), abs=0.05), phase
    for name in ("arm_raise_peak", "range_of_motion"):
        for side in ("left", "right"):
            one, other = (item.measure(name, rep=3, side=side) for item in (plain, after))  # type: ignore[arg-type]
            assert one is not None
            assert other is not None
            assert other.value == pytest.approx(one.value, abs=0.2)
    assert "was added by hand" in after.by_hand[1]


def test_a_small_movement_counts_when_a_person_says_so_and_is_partial() -> None:
    plan = lifter.Set((90.0, 22.0, 90.0, 90.0), low=10.0)
    t = lifter.times(plan.length_s)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t))
    found = reviewed(film)
    assert len(found.reps) == 3  # 12 degrees are no repetition for the machine
    start = plan.starts[1]
    after = reviewed(film, add_rep(Edits(), found.reps, start, start + 3.4))
    assert [rep.complete for rep in after.reps] == [True, False, True, True]
    assert after.reps[1].top_s == pytest.approx(start + 1.4, abs=0.3)


def test_nothing_turns_in_a_stretch_that_is_not_part_of_the_set(film: LandmarkRecording, plain: Review) -> None:
    after = reviewed(film, leave_out(Edits(), plain.reps[2].start_s - 0.1, PLAN.length_s))
    # What is left out lends its neighbours no resting level: the times are the same to a thousandth of a second.
    assert [rep.start_s for rep in after.reps] == pytest.approx([rep.start_s for rep in plain.reps[:2]], abs=1e-3)
    # The rest after the last rep ends where the set is interrupted.
    assert after.reps[1].tempo.bottom_pause_s < plain.reps[1].tempo.bottom_pause_s
    assert "is not part of the set" in after.by_hand[0]


def test_a_lift_that_begins_with_the_lowering_can_be_corrected_too() -> None:
    plan = lifter.Set((1.0,) * 3, low=0.0)
    t = lifter.times(plan.length_s)
    film = lifter.film(t, **shelf.squat(plan.course(t)), yaw=90)
    found = analyse(film, SQUAT, settings=EXACT).review
    assert len(found.reps) == 3
    rep = found.reps[1]
    edits = move_rep(Edits(), found.reps, 2, start_s=rep.start_s - 0.1, end_s=rep.end_s + 0.1)
    after = analyse(film, SQUAT, settings=EXACT, edits=edits).review
    assert (after.reps[1].start_s, after.reps[1].top_s) == (rep.start_s - 0.1, rep.end_s + 0.1)
    assert after.reps[1].tempo.eccentric_s == pytest.approx(rep.tempo.eccentric_s + 0.1, abs=0.04)
    assert after.reps[1].tempo.concentric_s == pytest.approx(rep.tempo.concentric_s + 0.1, abs=0.04)


def test_another_exercise_is_judged_by_its_own_rules(film: LandmarkRecording) -> None:
    edits = set_exercise(Edits(), "overhead-lateral-raise")
    with pytest.raises(UsageError, match="overhead-lateral-raise"):
        reviewed(film, edits)
    after = analyse(film, get_exercise("overhead-lateral-raise"), settings=EXACT, edits=edits).review
    assert after.exercise.id == "overhead-lateral-raise"
    assert after.by_hand == ("The exercise was set by hand.",)
    assert set_exercise(edits, None) == Edits()


def test_a_corrected_review_is_written_and_read_as_it_is(film: LandmarkRecording, plain: Review) -> None:
    after = reviewed(film, move_rep(Edits(), plain.reps, 2, start_s=plain.reps[1].start_s + 0.1))
    read = decode(encode(after))
    assert [rep.by_hand for rep in read.reps] == [False, True, False, False]
    assert read.by_hand == after.by_hand
    # What was read, rounded to 1 ms, can be corrected on.
    edits = move_rep(move_rep(Edits(), plain.reps, 2, start_s=plain.reps[1].start_s + 0.1), read.reps, 2, end_s=8.0)
    assert len(edits.placed) == 1


def refused(work: object) -> str:
    assert callable(work)
    with pytest.raises(UsageError) as caught:
        work()
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_what_does_not_fit_is_one_sentence(film: LandmarkRecording, plain: Review) -> None:
    reps = plain.reps
    assert "no rep 9" in refused(lambda: move_rep(Edits(), reps, 9, start_s=1.0))
    assert "no rep 0" in refused(lambda: delete_rep(Edits(), reps, 0))
    assert "overlap rep 1" in refused(lambda: move_rep(Edits(), reps, 2, start_s=reps[0].end_s - 0.5))
    assert "overlap rep 3" in refused(lambda: add_rep(Edits(), reps, reps[2].start_s, reps[2].end_s))
    assert "at least" in refused(lambda: move_rep(Edits(), reps, 2, start_s=reps[1].end_s))
    assert "top" in refused(lambda: move_rep(Edits(), reps, 2, top_s=reps[1].end_s + 1))
    assert "begins before" in refused(lambda: leave_out(Edits(), 5.0, 4.0))
    assert "begins before" in refused(lambda: leave_out(Edits(), math.nan, 4.0))
    assert "moments of the clip" in refused(lambda: Placed(-1.0, 3.0))
    assert "moments of the clip" in refused(lambda: Placed(0.0, math.inf))
    assert "overlap" in refused(lambda: Edits(placed=(Placed(1, 3), Placed(2, 4))))
    assert "outside the clip" in refused(lambda: reviewed(film, Edits(placed=(Placed(500, 503),))))
    unseen = dataclasses.replace(
        film, pixels=np.full(film.pixels.shape, np.nan), world=np.full(film.world.shape, np.nan)
    )
    assert "hardly seen" in refused(lambda: reviewed(unseen, Edits(placed=(Placed(1, 3),))))


moments = st.integers(0, 60_000).map(lambda ms: ms / 1000)


@settings(max_examples=40)
@given(
    st.lists(moments, max_size=4),
    st.lists(st.tuples(moments, st.integers(200, 3000), st.booleans()), max_size=4),
    st.lists(st.tuples(moments, st.integers(1, 9000)), max_size=3),
)
def test_any_correction_gives_a_review_or_one_sentence(
    removed: list[float], placed: list[tuple[float, int, bool]], outside: list[tuple[float, int]]
) -> None:
    plan = lifter.Set((90.0, 88.0))
    t = lifter.times(plan.length_s)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t))
    try:
        edits = Edits(
            outside=tuple(Stretch(start % 8, start % 8 + ms / 1000) for start, ms in outside),
            removed_s=tuple(removed),
            placed=tuple(
                Placed(start % 8, start % 8 + ms / 1000, start % 8 + ms / 2000 if top else None)
                for start, ms, top in placed
            ),
        )
        review = reviewed(film, edits)
    except UsageError:
        return
    assert [rep.number for rep in review.reps] == list(range(1, len(review.reps) + 1))
    for rep in review.reps:
        assert rep.start_s <= rep.top_s <= rep.end_s
        assert all(part >= 0 for part in dataclasses.astuple(rep.tempo))
    assert sum(rep.by_hand for rep in review.reps) == len(placed)
    assert decode(encode(review)).by_hand == review.by_hand
    assert decode_edits(encode_edits(edits)).placed == tuple(
        dataclasses.replace(
            item,
            start_s=round(item.start_s, 3),
            end_s=round(item.end_s, 3),
            top_s=None if item.top_s is None else round(item.top_s, 3),
        )
        for item in edits.placed
    )


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"exercise_id": 3}', "NaN", '{"placed": [{"start_s": 3}]}'])
def test_damaged_stored_corrections_are_one_sentence(text: str) -> None:
    with pytest.raises(ReviewFormatError) as caught:
        decode_edits(text)
    assert "\n" not in str(caught.value)
