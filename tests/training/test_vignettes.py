"""Forty invented cases, answered from the case alone before the rules were written (sources beside each answer)."""

from collections import Counter

from formcheck.exercises.registry import get_exercise
from formcheck.training.plan import parse_plan
from formcheck.vocabulary import MEASURES
from tests.training.vignettes import load_vignettes


def test_forty_cases_each_whole_and_each_once() -> None:
    cases = load_vignettes()
    assert len(cases) == 40
    assert max(Counter(case.id for case in cases).values()) == 1
    for case in cases:
        assert case.reason.endswith(".")
        assert case.source
        days = [session.days_ago for session in case.history]
        assert days == sorted(days, reverse=True), case.id
        assert case.history[-1].exercise is None, case.id
        if case.plan is not None:
            assert parse_plan(case.plan).sets
        for session in case.history:
            get_exercise(session.exercise or case.exercise)
            for missed in (session.not_met, *session.not_met_sets):
                assert missed.keys() <= MEASURES.keys(), case.id
            assert not session.not_met_sets or len(session.not_met_sets) == len(session.reps), case.id
            assert not session.remarks or len(session.remarks) == len(session.reps), case.id


def test_the_cases_are_wide_and_no_answer_adds_load_where_something_forbids_it() -> None:
    cases = load_vignettes()
    assert not [case.id for case in cases if case.bars is not None and "raise" in case.answer]
    bars = Counter(case.bars for case in cases)
    assert bars["pain"] >= 8
    assert min(bars["form"], bars["short"]) >= 4
    assert {kind for case in cases for kind in case.answer} == {"stop", "back_off", "ease", "hold", "raise", "none"}
