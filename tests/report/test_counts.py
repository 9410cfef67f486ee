"""The same count everywhere: sentence, headings, store."""

from dataclasses import replace

import pytest

from formcheck.exercises.registry import get_exercise
from formcheck.report import summary, wording
from formcheck.verdicts import choose_points, grade_points
from tests.shelf import review


@pytest.mark.parametrize(("exercise", "yaw"), [("squat", 0.0), ("machine-reverse-fly", 180.0), ("hip-hinge", 0.0)])
def test_headings_and_sentence_name_the_same_number_of_points(exercise: str, yaw: float) -> None:
    found = review(exercise, yaw=yaw)
    groups = summary.group_findings(found, get_exercise(exercise))
    counts = wording.count_grades(found)
    no_camera = len(summary.list_untold(found, get_exercise(exercise)))
    shown = {grade: sum(item.points for item in items) for grade, items in groups.items()}
    assert {**shown, "unseen": shown["unseen"] - no_camera} == counts
    # Several points that one film would show are told in one place, and still counted one by one.
    assert len(groups["unseen"]) < counts["unseen"]
    said = wording.summarise(found)
    assert f"{sum(counts.values()) - counts['unseen']} of {sum(counts.values())} points could be seen" in said
    for grade, words in (
        ("met", "going well"),
        ("probably_met", "probably going well"),
        ("close", "too close to call"),
    ):
        assert (f"{counts[grade]} {words}" in said) == (counts[grade] > 0)
    assert sum(counts.values()) + no_camera == len({item.check for item in found.findings})


def test_the_sentence_says_from_where_more_could_be_seen() -> None:
    exercise, found = get_exercise("squat"), review("squat", yaw=0.0)
    said = wording.describe_outcome(found, exercise)
    unseen = [check for check in exercise.checks if grade_points(found).get(check.id, "met") is None]
    more = sum({"left", "right"} & set(exercise.views_for(check)) != set() for check in unseen)
    assert more > 1
    assert "could be seen from here: " in said
    assert said.endswith(f"Film from the side to see {more} more points.")
    assert "Film" not in wording.describe_outcome(found)
    # Above headings with the counts of the points only the reps are told.
    assert said == f"{wording.describe_reps(found)} {said.partition('. ')[2]}"
    assert "point" not in wording.describe_reps(found)


def test_arms_and_target_stand_behind_the_reps_in_one_pair_of_brackets() -> None:
    found = review("squat", yaw=0.0)
    sides = tuple(replace(rep, side=("left", "right")[rep.number % 2]) for rep in found.reps)
    said = wording.describe_reps(replace(found, reps=sides, set_info=replace(found.set_info, target_reps=9)))
    assert said.count("(") == said.count(")")
    assert "right; target 9)." in said


def test_the_five_grades_and_what_was_not_seen_differ_in_words_and_shape() -> None:
    for words in (wording.GRADE_WORDS, wording.GRADE_SIGNS):
        assert set(words) == set(wording.SHOWN_ORDER)
        assert len(set(words.values())) == len(wording.SHOWN_ORDER)


def test_a_points_change_speaks_for_it_where_it_is_the_surer_fault() -> None:
    found = review("squat", yaw=0.0)
    check = found.points[0].check
    level = replace(found.points[0], kind="level", grade="close", verdict="undecided", probability=0.5)
    change = replace(level, kind="change", grade="probably_not_met", verdict="not_met", probability=0.9)
    assert grade_points(replace(found, points=(level, change)))[check] == "probably_not_met"
    assert grade_points(replace(found, points=(change, level)))[check] == "probably_not_met"
    # A change that is not at fault says nothing about the level.
    kept = replace(change, grade="met", verdict="met", probability=0.01)
    assert grade_points(replace(found, points=(level, kept)))[check] == "close"
    sure = replace(level, grade="not_met", verdict="not_met", probability=0.99)
    assert choose_points(replace(found, points=(sure, change)))[check] == sure
