"""One rep against another: what the measuring alone can make is not claimed."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from formcheck.core.errors import UsageError
from formcheck.core.model import ExerciseRef, Measure, Review
from formcheck.statistics.comparison import choose_end_reps, compare_first_with_last, compare_reps
from formcheck.statistics.detectable_change import compute_rep_error
from tests.facts import says
from tests.web.synthetic import synthetic_analysis

REVIEW = synthetic_analysis().review
LABELS = ("rep 1", "rep 6")


def with_measures(*rows: tuple[str, int, float, float]) -> Review:
    """The made-up set with these (name, rep, value, margin) and no others."""
    return replace(
        REVIEW, measures=tuple(Measure(name, None, rep, value, margin, "s") for name, rep, value, margin in rows)
    )


def test_within_a_set_only_what_scatters_counts_and_the_margin_is_the_textbooks() -> None:
    review = with_measures(("eccentric_time", 1, 2.0, 0.3), ("eccentric_time", 6, 1.7, 0.3))
    (found,) = compare_reps(review, 1, review, 6, labels=LABELS, same_set=True).differences
    sem = compute_rep_error("eccentric_time", "frontal", 0.3)
    # The difference of two values of one error: sd = sqrt(2)·SEM (Weir 2005, from memory).
    assert found.margin == pytest.approx(1.959964 * np.sqrt(2) * sem)
    assert found.detectable == pytest.approx(found.margin)
    assert found.p == pytest.approx(2 * norm.sf(0.3 / (np.sqrt(2) * sem)))
    assert found.change == pytest.approx(-0.3)


def test_between_sets_the_whole_margin_blurs() -> None:
    a = with_measures(("eccentric_time", 1, 2.0, 0.3))
    b = with_measures(("eccentric_time", 1, 1.7, 0.3))
    (found,) = compare_reps(a, 1, b, 1, labels=LABELS).differences
    assert found.margin == pytest.approx(np.hypot(0.3, 0.3), rel=1e-4)
    assert found.call == "no_detectable_change"


def test_many_numbers_side_by_side_need_more_of_each() -> None:
    names = ["eccentric_time", "concentric_time", "top_pause", "bottom_pause"]
    alone = with_measures((names[0], 1, 2.0, 0.3), (names[0], 6, 2.0 - 0.45, 0.3))
    (one,) = compare_reps(alone, 1, alone, 1 + 5, labels=LABELS).differences
    assert one.call == "changed"
    rows = [row for name in names[1:] for row in ((name, 1, 1.0, 0.3), (name, 6, 1.0, 0.3))]
    many = with_measures((names[0], 1, 2.0, 0.3), (names[0], 6, 1.55, 0.3), *rows)
    found = {item.measure: item for item in compare_reps(many, 1, many, 6, labels=LABELS).differences}
    assert found[names[0]].p_family == pytest.approx(4 * one.p)
    assert found[names[0]].call == "no_detectable_change"


def test_false_claims_stay_below_five_in_a_hundred() -> None:
    rng = np.random.default_rng(7)
    names = ("eccentric_time", "concentric_time", "top_pause")
    claims = 0
    for _ in range(400):
        noise = rng.normal(scale=0.1 / 1.959964, size=(2, 3))
        rows = [(name, rep, 2.0 + noise[k, i], 0.1) for i, name in enumerate(names) for k, rep in enumerate((1, 6))]
        review = with_measures(*rows)
        found = compare_reps(review, 1, review, 6, labels=LABELS)
        claims += any(item.call == "changed" for item in found.differences)
    assert claims / 400 < 0.05 + 2.6 * np.sqrt(0.05 * 0.95 / 400)


def test_a_fall_is_told_in_a_sentence_and_the_same_rep_in_none() -> None:
    found = compare_reps(REVIEW, 1, REVIEW, 6, labels=LABELS, same_set=True)
    assert says(found.sentence, "Range of motion", "fell", "21°", "rep 1", "rep 6")
    same = compare_reps(REVIEW, 2, REVIEW, 2, labels=("rep 2", "rep 2"), same_set=True)
    assert "nothing that can be told" in same.sentence


def test_what_does_not_fit_is_refused() -> None:
    other = replace(REVIEW, exercise=ExerciseRef("squat", "Squat"))
    with pytest.raises(UsageError, match="one exercise"):
        compare_reps(REVIEW, 1, other, 1, labels=LABELS)
    with pytest.raises(UsageError, match="no rep 9"):
        compare_reps(REVIEW, 1, REVIEW, 9, labels=LABELS, same_set=True)


def test_the_last_three_reps_are_held_against_the_first_three_by_their_means() -> None:
    values = (2.0, 2.2, 2.1, 1.9, 1.6, 1.5)
    review = with_measures(*(("eccentric_time", rep, value, 0.3) for rep, value in enumerate(values, start=1)))
    assert choose_end_reps(review) == ((1, 2, 3), (4, 5, 6))
    (found,) = compare_first_with_last(review).differences
    sem = compute_rep_error("eccentric_time", "frontal", 0.3)
    assert (found.before, found.after) == pytest.approx((2.1, 5.0 / 3))
    # The error of a mean of three is that of one over sqrt(3), in both means (Weir 2005, from memory).
    assert found.margin == pytest.approx(1.959964 * np.sqrt(2 / 3) * sem)
    assert found.call == "changed"


def test_the_ends_never_share_a_rep_and_leave_out_what_is_no_whole_rep() -> None:
    four = replace(REVIEW, reps=REVIEW.reps[:4])
    assert choose_end_reps(four) == ((1, 2), (3, 4))
    cut_short = replace(REVIEW, reps=(*REVIEW.reps[:5], replace(REVIEW.reps[5], complete=False)))
    assert choose_end_reps(cut_short) == ((1, 2), (4, 5))
    alone = replace(REVIEW, reps=REVIEW.reps[:1])
    assert choose_end_reps(alone) == ((), ())
    assert says(compare_first_with_last(alone).sentence, "too few")
    assert not compare_first_with_last(alone).differences
