"""A clip with a cut: each part is measured as if it were a clip of its own (what is the same must be the same)."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.analysis import analyse, analyse_camera
from formcheck.core.errors import UsageError
from formcheck.core.model import Array, LandmarkRecording, Measure, Review, Scene
from formcheck.exercises.registry import get_exercise
from formcheck.findings import judge_again
from formcheck.formats import decode, encode
from formcheck.reps.edits import Edits, Placed, Stretch, add_rep, delete_rep, select_part
from formcheck.reps.find import drop_cut_reps
from formcheck.signals.parts import find_longest, split_at_cuts
from formcheck.statistics.comparison import compare_early_with_late, compare_reps
from formcheck.statistics.rep_series import find_part, take_longest_run
from formcheck.statistics.set_trends import analyse_set
from tests import lifter

RAISE = get_exercise("lateral-raise")
FIRST, SECOND = lifter.Set((92.0, 90.0, 91.0, 92.0)), lifter.Set((70.0, 72.0))
RATE = 30.0


def filmed(plan: lifter.Set, **how: float) -> LandmarkRecording:
    t = lifter.times(plan.length_s)
    arm = plan.course(t)
    return lifter.film(t, left=arm, right=arm, **how)


def behind_one_another(first: LandmarkRecording, second: LandmarkRecording) -> LandmarkRecording:
    """Both films as one clip that is cut between them."""
    later = first.t[-1] + 1 / RATE

    def both(name: str) -> Array:
        return np.concatenate([getattr(first, name), getattr(second, name)])

    t = np.concatenate([first.t, second.t + later])
    film = lifter.recording(t, both("pixels"), both("world"), both("visibility"))
    return replace(film, scene=Scene(cuts=(float(later),)))


@pytest.fixture(scope="module")
def pieces() -> tuple[LandmarkRecording, LandmarkRecording]:
    return filmed(FIRST), filmed(SECOND)


@pytest.fixture(scope="module")
def spliced(pieces: tuple[LandmarkRecording, LandmarkRecording]) -> LandmarkRecording:
    return behind_one_another(*pieces)


@pytest.fixture(scope="module")
def review(spliced: LandmarkRecording) -> Review:
    return analyse(spliced, RAISE).review


def numbers(measures: tuple[Measure, ...], reps: range, before: int = 0) -> dict[tuple[str, str | None, int], float]:
    return {
        (item.name, item.side, item.rep - before): item.value
        for item in measures
        if item.rep in reps and item.value is not None
    }


def test_every_part_is_measured_as_a_clip_of_its_own(
    pieces: tuple[LandmarkRecording, LandmarkRecording], review: Review
) -> None:
    alone = [analyse(piece, RAISE).review for piece in pieces]
    assert [len(part.reps) for part in review.parts] == [4, 2]
    assert [rep.number for rep in review.reps] == list(range(1, 7))
    for numbered, before, own in ((range(1, 5), 0, alone[0]), (range(5, 7), 4, alone[1])):
        found, wanted = numbers(review.measures, numbered, before), numbers(own.measures, range(1, 9))
        assert found.keys() == wanted.keys() != set()
        for key, value in wanted.items():
            assert found[key] == pytest.approx(value, abs=1e-6), key
    # The smaller second set is not a lost range of the first one.
    assert all(item.value > 0.9 for item in review.measures if item.name == "range_share" and item.value is not None)
    assert any("is cut at" in note for note in review.quality.notes)
    assert any("reps 1–4; reps 5 and 6" in note for note in review.quality.notes)


def test_a_clip_without_a_cut_has_no_parts(pieces: tuple[LandmarkRecording, LandmarkRecording]) -> None:
    assert analyse(pieces[0], RAISE).review.parts == ()
    assert split_at_cuts(pieces[0]) == (pieces[0],)


def test_the_document_keeps_the_parts(review: Review) -> None:
    read = decode(encode(review))
    assert [part.reps for part in read.parts] == [(1, 2, 3, 4), (5, 6)]
    assert read.parts[0].start_s == 0.0
    assert read.parts[0].end_s < read.parts[1].start_s
    assert encode(read) == encode(review)
    without = encode(replace(review, parts=()))
    assert decode(without.replace(', "parts": []', "")) == decode(without)


def test_a_rep_the_cut_goes_through_is_not_counted(pieces: tuple[LandmarkRecording, LandmarkRecording]) -> None:
    whole = analyse(pieces[0], RAISE).review.reps
    cut = replace(pieces[0], scene=Scene(cuts=(whole[1].top_s,)))
    review = analyse(cut, RAISE).review
    assert [rep.top_s for rep in review.reps] == pytest.approx(
        [rep.top_s for rep in whole if rep is not whole[1]], abs=0.04
    )
    assert [rep.number for rep in review.reps] == [1, 2, 3]
    assert [part.reps for part in review.parts] == [(1,), (2, 3)]


def test_only_what_touches_the_cut_and_is_not_whole_is_taken(
    pieces: tuple[LandmarkRecording, LandmarkRecording],
) -> None:
    rep = analyse(pieces[0], RAISE).review.reps[0]
    t = np.array([rep.start_s, rep.end_s])
    partial = replace(rep, complete=False)
    assert drop_cut_reps([rep, partial], t, True, True) == (rep,)
    assert drop_cut_reps([partial], t, False, False) == (partial,)
    assert drop_cut_reps([partial], t + np.array([0.0, 1.0]), False, True) == (partial,)
    assert drop_cut_reps([replace(partial, by_hand=True)], t, True, True) == (replace(partial, by_hand=True),)


def test_early_and_late_are_compared_within_one_part(review: Review) -> None:
    assert take_longest_run(review).reps == review.reps[:4]
    assert {item.rep for item in take_longest_run(review).measures} == {1, 2, 3, 4}
    course = analyse_set(review)
    assert course.reps == 4
    assert course.breakdown is None
    whole = analyse_set(replace(review, parts=()))
    assert whole.reps == 6
    assert compare_early_with_late(review).notes == compare_early_with_late(take_longest_run(review)).notes


def test_reps_of_two_parts_need_a_larger_difference(review: Review) -> None:

    def margins(first: int, second: int) -> tuple[list[float], bool]:
        found = compare_reps(review, first, review, second, labels=("one", "other"), same_set=True)
        cut_told = any("cut between" in note for note in found.notes)
        return [item.margin for item in found.differences if item.measure == "range_of_motion"], cut_told

    within, across = margins(1, 4), margins(4, 5)
    assert within[0] < across[0]
    assert (within[1], across[1]) == (False, True)
    assert find_part(review, 5) == review.parts[1]
    assert find_part(review, 9) is None


def test_parts_from_two_sides_are_each_judged_by_what_they_show() -> None:
    review = analyse(behind_one_another(filmed(FIRST), filmed(FIRST, yaw=90.0)), RAISE).review
    assert [part.view.name for part in review.parts] == ["front", "left"]
    assert [len(part.reps) for part in review.parts] == [4, 4]
    assert any("reps 1–4 from the front; reps 5–8 from the left" in note for note in review.quality.notes)
    # What only the front shows is told of the first part's reps, what only the side shows of the second's.
    seen = {name: {item.rep for item in review.measures if item.name == name and item.value is not None}
            for name in ("arm_elevation_peak", "torso_inclination_range")}  # fmt: skip
    assert seen == {"arm_elevation_peak": {1, 2, 3, 4}, "torso_inclination_range": {5, 6, 7, 8}}
    swing = [item for item in review.findings if item.measure == "torso_inclination_range"]
    assert any(item.verdict == "met" and item.reps == (5, 6, 7, 8) for item in swing)
    (unseen,) = [item for item in swing if item.verdict == "undecided"]
    assert unseen.reps == (1, 2, 3, 4)
    assert "could not be told in reps 1–4; not measurable from the front; film from the side." in unseen.text
    assert [(item.check, item.verdict, item.reps) for item in judge_again(review, RAISE).findings] == [
        (item.check, item.verdict, item.reps) for item in review.findings
    ]


def test_corrections_go_to_the_part_they_are_in(spliced: LandmarkRecording, review: Review) -> None:
    edits = delete_rep(Edits(), review.reps, 2)
    edits = delete_rep(edits, review.reps, 6)
    corrected = analyse(spliced, RAISE, edits=edits).review
    assert [part.reps for part in corrected.parts] == [(1, 2, 3), (4,)]
    last = review.reps[5]
    back = add_rep(edits, corrected.reps, last.start_s, last.end_s)
    again = analyse(spliced, RAISE, edits=back).review
    assert [rep.by_hand for rep in again.reps] == [False] * 4 + [True]
    with pytest.raises(UsageError, match="outside the clip"):
        analyse(spliced, RAISE, edits=Edits(placed=(Placed(900.0, 902.0),)))


def test_a_rep_set_by_hand_over_a_cut_says_there_is_none(pieces: tuple[LandmarkRecording, LandmarkRecording]) -> None:
    second = analyse(pieces[0], RAISE).review.reps[1]
    film = replace(pieces[0], scene=Scene(cuts=(second.top_s,)))
    review = analyse(film, RAISE, edits=Edits(placed=(Placed(second.start_s, second.end_s),))).review
    assert len(review.reps) == 4
    assert review.parts == ()


def test_corrections_are_divided_at_the_cut() -> None:
    edits = Edits(outside=(Stretch(1.0, 9.0),), removed_s=(2.0, 7.0), placed=(Placed(3.0, 4.0), Placed(6.0, 8.0)))
    first, second = select_part(edits, -np.inf, 5.0), select_part(edits, 5.0, np.inf)
    assert first == Edits(outside=(Stretch(1.0, 5.0),), removed_s=(2.0,), placed=(Placed(3.0, 4.0),))
    assert second == Edits(outside=(Stretch(5.0, 9.0),), removed_s=(7.0,), placed=(Placed(6.0, 8.0),))


def test_a_flicker_of_cuts_leaves_what_is_long_enough(pieces: tuple[LandmarkRecording, LandmarkRecording]) -> None:
    film = replace(pieces[0], scene=Scene(cuts=(0.1, 0.2, 0.3, 0.4)))
    parts = split_at_cuts(film)
    assert [round(float(part.t[0]), 2) for part in parts] == [0.4]
    all_cuts = replace(pieces[0], scene=Scene(cuts=tuple(np.round(pieces[0].t[1::3], 4))))
    assert len(split_at_cuts(all_cuts)) == 1
    assert analyse(all_cuts, RAISE).review.reps == ()


def test_known_reps_are_read_from_the_longest_part(spliced: LandmarkRecording, review: Review) -> None:
    reps = review.reps[:4]
    seen = analyse_camera(spliced, RAISE, reps=reps)
    assert seen.reps == reps
    assert seen.signals.t[-1] == find_longest(split_at_cuts(spliced)).t[-1]


def test_a_part_is_told_by_its_times_and_reps(spliced: LandmarkRecording, review: Review) -> None:
    assert [part.reps for part in review.parts] == [(1, 2, 3, 4), (5, 6)]
    assert review.parts[1].start_s == pytest.approx(spliced.scene.cuts[0], abs=1e-3)
