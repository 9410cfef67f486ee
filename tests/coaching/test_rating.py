"""Answers to reviews: what may be one, and how often coaches agree, with an interval that is tabled elsewhere."""

from dataclasses import replace

import pytest

from formcheck.coaching.rating import (
    LONGEST_WHY,
    OF_REP,
    Rating,
    count_agreement,
    find_rating,
    rate_check,
    rate_rep,
    sum_agreement,
)
from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.formats import decode
from formcheck.report.rating_text import describe_agreement, describe_agreement_in_set, describe_rating, format_share
from formcheck.verdicts import judge_points
from tests.storage.conftest import DATA, one_sentence


@pytest.fixture(scope="module")
def review() -> Review:
    return decode((DATA / "review_v1.json").read_bytes())


def test_a_rating_says_what_the_review_said(review: Review) -> None:
    for check, verdict in judge_points(review).items():
        assert rate_check(review, check, agrees=False, why="  seen \n otherwise ") == Rating(
            check, verdict, False, "seen otherwise"
        )
    rep = review.reps[1]
    made = rate_rep(review, rep.number, agrees=True)
    assert (made.check, made.verdict, made.rep_s, made.why) == (OF_REP, "whole", rep.top_s, None)


@pytest.mark.parametrize("why", ["x" * (LONGEST_WHY + 1)])
def test_what_cannot_be_rated_is_one_sentence(review: Review, why: str) -> None:
    for wrong in (
        lambda: rate_check(review, "no-such-check", agrees=True),
        lambda: rate_rep(review, 99, agrees=True),
        lambda: rate_rep(review, 1, agrees=True, why=why),
        lambda: Rating(OF_REP, "whole", True),
    ):
        with pytest.raises(UsageError) as caught:
            wrong()
        one_sentence(caught.value)


def test_a_rated_rep_is_found_again_when_reps_are_counted_anew(review: Review) -> None:
    second = rate_rep(review, 2, agrees=False)
    fewer = replace(review, reps=tuple(replace(rep, number=rep.number - 1) for rep in review.reps[1:]))
    assert find_rating([second], review, rep=2) == second
    assert find_rating([second], review, rep=1) is None
    assert find_rating([second], fewer, rep=1) == second
    assert describe_rating(second, fewer).startswith("Rep 1 ")
    gone = replace(review, reps=review.reps[2:])
    assert "not counted any more" in describe_rating(second, gone)


def test_agreement_is_counted_by_exercise_and_check() -> None:
    yes, no = Rating("height", "met", True), Rating("height", "met", False)
    other = Rating("depth", "not_met", True)
    found = count_agreement([("lateral-raise", yes)] * 9 + [("lateral-raise", no)] + [("squat", other)])
    assert [(item.exercise_id, item.check, item.agree, item.disagree) for item in found] == [
        ("lateral-raise", "height", 9, 1),
        ("squat", "depth", 1, 0),
    ]
    everything = sum_agreement(found)
    assert everything is not None
    assert (everything.agree, everything.disagree) == (10, 1)
    assert sum_agreement([]) is None
    assert describe_agreement([]) == ""
    assert "10 of 11 answers" in describe_agreement(found)
    assert "0 of 1 answer:" in describe_agreement(count_agreement([("lateral-raise", no)]))
    assert describe_agreement_in_set([yes, no]) == "You agreed with 1 of 2 answers."


def test_the_interval_is_wilsons() -> None:
    """By Wilson's formula with z = 1.96: (p + z²/2n ± z·√(p(1 − p)/n + z²/4n²)) / (1 + z²/n), worked out by hand."""
    (found,) = count_agreement(
        [("squat", Rating("depth", "met", True))] * 8 + [("squat", Rating("depth", "met", False))] * 2
    )
    low, high = found.compute_interval()
    assert (round(low, 4), round(high, 4)) == (0.4902, 0.9433)
    assert format_share(found) == "80 % (49 to 94 %)"
