"""Of sets that are fine no problem is told: rendered sets from each side (all of them:
`tools/benchmarks/problems.py`)."""

import pytest

from formcheck.analysis import analyse
from formcheck.exercises.registry import get_exercise
from tests.rendered import load_landmarks


@pytest.mark.parametrize(
    ("name", "exercise"),
    [
        ("000_lateral_raise", "lateral-raise"),
        ("182_lateral_raise", "lateral-raise"),
        ("040_overhead_lateral_raise", "overhead-lateral-raise"),
        ("093_bent_over_lateral_raise", "bent-over-lateral-raise"),
    ],
)
def test_a_set_that_is_fine_has_no_problem(name: str, exercise: str) -> None:
    review = analyse(load_landmarks(name), get_exercise(exercise)).review
    assert review.quality.problems == ()
    assert review.view.known
    assert review.reps
