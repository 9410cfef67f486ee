"""What a camera shows beyond doubt of points it is not placed to judge, and the course of a set beside what is judged.

Values and margins are made up; which of them a coach would speak of is common practice.
"""

from dataclasses import replace

import pytest

from formcheck.core.model import Measure, Review
from formcheck.exercises.schema import Check
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.plain_faults import find_lost_form, list_plain_faults
from formcheck.report.set_course import describe_course, list_changes
from formcheck.statistics.set_trends import analyse_set
from tests.report.test_next_cue import ALL, EXERCISE, finding, review


def get_check(name: str) -> Check:
    return next(item for item in EXERCISE.checks if item.id == name)


def unjudged(name: str, values: tuple[float, ...], margin: float) -> Review:
    """A set in which one point has numbers, and no verdict since the camera stands elsewhere; all else was not seen."""
    check = get_check(name)
    found = [replace(finding(one.id, ALL, None, "undecided"), reason="wrong_view") for one in EXERCISE.checks]
    return review(
        *found,
        measures=tuple(
            Measure(check.measure, None, rep, value, margin, check.unit) for rep, value in zip(ALL, values, strict=True)
        ),
    )


def test_a_half_rep_is_told_from_where_range_is_not_judged() -> None:
    half = unjudged("range-kept", (1.0, 0.5, 0.98, 1.0, 0.97, 1.0), 0.26)
    chosen = choose_next_cue(half, EXERCISE)
    assert chosen is not None
    assert (chosen.kind, chosen.check, chosen.reps) == ("change", "range-kept", (2,))
    assert chosen.cue.startswith("Rep 2 was a half rep")
    assert "not placed to judge" in chosen.why
    assert "about 50 %, give or take 26 %" in " ".join(chosen.why.split())
    # Within its margin of the limit of 87 % it is no more than a guess from there.
    assert list_plain_faults(unjudged("range-kept", (1.0, 0.5, 0.98, 1.0, 0.97, 1.0), 0.4), EXERCISE) == []
    guess = choose_next_cue(unjudged("range-kept", (1.0, 0.5, 0.98, 1.0, 0.97, 1.0), 0.4), EXERCISE)
    assert guess is not None
    assert guess.kind == "film"


def test_which_arm_is_lower_is_not_told_from_elsewhere() -> None:
    assert list_plain_faults(unjudged("even-sides", (-60.0,) * 6, 7.0), EXERCISE) == []


def test_lowering_that_surely_got_quick_is_told_from_the_side() -> None:
    rushed = unjudged("lowering", (1.71, 1.66, 1.69, 0.48, 0.45, 0.5), 1.0)
    lost = find_lost_form(rushed, EXERCISE)
    assert lost is not None
    assert lost[1].rep == 4
    chosen = choose_next_cue(rushed, EXERCISE)
    assert chosen is not None
    assert (chosen.check, chosen.from_rep, chosen.reps) == ("lowering", 4, (4, 5, 6))
    why = " ".join(chosen.why.split())
    assert why.startswith("From rep 4 on: lowering time from about 1.7 s to about 0.5 s in the last rep")
    assert "asked for: 0.8 s or more" in why
    # Quicker, but as slow as asked for all the same; and as quick from the first rep on.
    assert find_lost_form(unjudged("lowering", (2.91, 2.86, 2.89, 1.68, 1.65, 1.7), 1.0), EXERCISE) is None
    assert find_lost_form(unjudged("lowering", (0.48, 0.45, 0.5, 0.47, 0.46, 0.49), 1.0), EXERCISE) is None


def test_what_is_judged_from_here_is_left_to_its_verdict() -> None:
    rushed = unjudged("lowering", (1.71, 1.66, 1.69, 0.48, 0.45, 0.5), 1.0)
    judged = tuple(
        finding("lowering", ALL, 0.5, grade="close") if item.check == "lowering" else item for item in rushed.findings
    )
    assert find_lost_form(replace(rushed, findings=judged), EXERCISE) is None


# ---------------------------------------------------------------- the course beside it


@pytest.mark.parametrize(("reps", "begins"), [((4, 5, 6), 4), (ALL, None)])
def test_the_course_does_not_deny_what_is_to_change_from_a_rep_on(reps: tuple[int, ...], begins: int | None) -> None:
    still = tuple(rep for rep in ALL if rep not in reps)
    found = [finding("lowering", reps, 0.4), *([finding("lowering", still, 1.4, "met")] if still else [])]
    judged = review(*found)
    course = replace(analyse_set(judged), notes=(), sentence="Form did not break down.")
    said = describe_course(course, judged, EXERCISE)
    if begins is None:
        assert said == course.sentence
    else:
        assert f"From rep {begins} on" in said
        assert get_check("lowering").title in said
        assert "did not break down" not in said
    # Too few reps or numbers for a course is what is said then.
    assert describe_course(replace(course, notes=("Too few.",)), judged, EXERCISE) == course.sentence


def test_a_change_that_the_course_names_is_not_listed_again() -> None:
    rushed = unjudged("lowering", (1.71, 1.66, 1.69, 0.48, 0.45, 0.5), 1.0)
    course = analyse_set(rushed)
    assert [item.measure for item in course.onsets] == ["eccentric_time"]
    assert course.onsets[0].sentence in course.sentence
    assert list_changes(course) == []
    assert list_changes(replace(course, sentence="Form did not break down.")) == [course.onsets[0].sentence]
