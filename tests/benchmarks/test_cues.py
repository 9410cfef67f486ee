"""How a next cue is held against what a coach would say."""

from types import SimpleNamespace
from typing import Any

import pytest

from formcheck.report.next_cue import NextCue


def told(check: str, *, side: Any = None, from_rep: int | None = None, reps: tuple[int, ...] = (3, 4, 5)) -> NextCue:
    return NextCue(check, "A title", "A cue.", "A reason.", reps, 1.0, "change", side, from_rep)


PRAISE = NextCue("", "Good set", "Go on.", "", (), None, "praise")


def test_a_cue_is_right_when_point_side_and_first_rep_agree() -> None:
    from cues import Answer, rate

    uneven = [Answer(("even-sides",), "left", (3,), "one_side_lower")]
    assert rate(told("even-sides", side="left", from_rep=3), uneven, seen=True) == "right"
    assert rate(told("even-sides", side="left", from_rep=4), uneven, seen=True) == "right"  # to one rep
    assert rate(told("even-sides", side="left", from_rep=6, reps=(6, 7)), uneven, seen=True) == "rep"
    assert rate(told("even-sides", side="right", from_rep=3), uneven, seen=True) == "side"
    assert rate(told("even-sides", from_rep=3), uneven, seen=True) == "side"
    assert rate(told("height", side="left", from_rep=3), uneven, seen=True) == "another point"
    assert rate(PRAISE, uneven, seen=True) == rate(None, uneven, seen=True) == "nothing told"
    halves = [Answer(("range-kept",), "", (2, 7), "half_reps")]
    assert rate(told("range-kept", reps=(2, 7)), halves, seen=True) == "right"


def test_a_clean_set_and_one_whose_fault_no_eye_sees_want_nothing_told() -> None:
    from cues import Answer, rate

    assert rate(PRAISE, [], seen=True) == rate(None, [], seen=True) == "right"
    assert rate(told("height"), [], seen=True) == "told where nothing is"
    unseen = [Answer(("no-swing",), "", (2,), "swings")]
    assert rate(PRAISE, unseen, seen=False) == "right"
    assert rate(told("height", from_rep=2), unseen, seen=False) == "another point"


def test_every_planted_fault_has_checks_that_speak_of_it_or_none_in_any_exercise() -> None:
    pytest.importorskip("pyvista", reason="the list of faults needs the render extra")
    from cues import CHECKS_OF
    from set_faults import FAULTS

    untold = {"neck_back", "palms_do_not_turn", "palms_stay_in"}
    assert {fault.kind for faults in FAULTS.values() for fault in faults} - CHECKS_OF.keys() <= untold


def test_each_of_the_coachs_cues_gives_answers_that_can_be_compared() -> None:
    from cues import COACH_PART, list_answers, load_coach

    for name, coach in load_coach().items():
        answers, seen = list_answers(COACH_PART, SimpleNamespace(name=name))  # type: ignore[arg-type]
        assert bool(answers) == (coach["cue"] != "none")
        assert seen == coach.get("seen", True)
        assert all(isinstance(rep, int) for answer in answers for rep in answer.reps)
