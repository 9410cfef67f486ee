"""Of sets that are fine no problem is told: rendered sets from each side (all of them:
`tools/benchmarks/problems.py`)."""

from pathlib import Path

import pytest

from formcheck.analysis import analyse
from formcheck.exercises.registry import get_exercise
from formcheck.pose.recording import load_recording

PLAIN = Path(__file__).parents[1] / "tools" / "benchmarks" / "recordings" / "plain"


@pytest.mark.parametrize(
    ("name", "exercise"),
    [
        ("lateral_raise_front_1_4", "lateral-raise"),
        ("lateral_raise_oblique_3_16", "lateral-raise"),
        ("overhead_lateral_raise_back_2_9", "overhead-lateral-raise"),
        ("bent_over_lateral_raise_left_1_14", "bent-over-lateral-raise"),
    ],
)
def test_a_set_that_is_fine_has_no_problem(name: str, exercise: str) -> None:
    review = analyse(load_recording(PLAIN / f"{name}.npz"), get_exercise(exercise)).review
    assert review.quality.problems == ()
    assert review.view.known
    assert review.reps
