"""What the benchmarks ask of the rendered sets, on reviews and truths written out."""

import pytest

from formcheck.core.model import QualityProblem
from tests.rendered import load_truth


def named(exercise: str, also: str = "") -> QualityProblem:
    return QualityProblem("other-exercise", {"exercise": exercise, "also": also, "confidence": 0.9, "reps": 3})


def test_a_wrong_exercise_counts_as_recognised_only_where_the_true_one_is_named() -> None:
    from wrong_exercise import NO_REPS, OTHER, SILENT, TRUE, outcome_of

    assert outcome_of("squat", 4, None) == SILENT
    assert outcome_of("squat", 0, None) == NO_REPS
    assert outcome_of("squat", 4, named("hip-hinge")) == OTHER
    assert outcome_of("squat", 4, named("hip-hinge", "front-raise squat")) == TRUE
    # A bar in the hands shows no landmark.
    assert outcome_of("guided-bar-press", 4, named("dumbbell-press")) == TRUE


def test_a_fault_counts_as_a_breakdown_from_the_rep_it_stays_from() -> None:
    from fatigue import find_first_rep

    assert find_first_rep([{"reps": [4, 5, 6]}], 6) == 4
    assert find_first_rep([{"reps": [4, 5]}], 6) is None
    assert find_first_rep([{"reps": [1, 2, 3]}], 3) is None
    assert find_first_rep([], 6) is None


@pytest.mark.parametrize("name", ["031_turning_palm_press", "037_biceps_curl"])
def test_range_fades_from_one_rep_on_in_the_truth_too(name: str) -> None:
    from fatigue import find_first_rep

    document = load_truth(name).document
    first = find_first_rep(document["faults"], len(document["reps"]))
    assert first is not None
    shares = [rep["share"] for rep in document["reps"]]
    assert min(shares[: first - 1]) > max(shares[first - 1 :])


def test_a_part_without_sets_is_named() -> None:
    from rendered_sets import map_sets

    with pytest.raises(SystemExit, match="no-such-part"):
        list(map_sets(str, "no-such-part"))
