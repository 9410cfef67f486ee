"""What is told of a set's early and late reps agrees, in rendered tuning sets whose planted fault is known."""

from dataclasses import replace

import pytest

SETS = (
    "037_biceps_curl",
    "053_overhead_lateral_raise",
    "074_squat",
    "151_front_raise",
    "026_lateral_raise",
    "143_lateral_raise",
)
"""A fading range from rep 3 of 5 and 6 of 8, a squat that gets shallow from 9 of 12, a fading range from 5 of 7; a lean
from 2 of 5 and shoulders that creep up from 4 of 8, each told by a point that is at fault from there on."""


@pytest.mark.parametrize("name", SETS)
def test_findings_course_and_comparison_speak_with_one_voice(name: str) -> None:
    from one_voice import KINDS, hear
    from packed_sets import packed_folder
    from rendered_sets import load_set

    one = load_set(packed_folder("tuning") / f"{name}.truth.npz.xz")
    heard = hear(one)
    assert heard is not None
    assert heard.contradictions == ()
    assert heard.first is not None
    assert heard.breakdown is not None
    assert abs(heard.breakdown.rep - heard.first) <= 1
    assert {item.aspect for item in heard.breakdown.first} & KINDS[heard.kind]


def test_a_course_that_is_silent_on_a_finding_is_a_contradiction(monkeypatch: pytest.MonkeyPatch) -> None:
    import one_voice
    from formcheck.analysis import analyse
    from packed_sets import packed_folder
    from rendered_sets import load_set

    one = load_set(packed_folder("tuning") / "053_overhead_lateral_raise.truth.npz.xz")
    review = analyse(one.recording, one.exercise).review
    course = one_voice.analyse_set(review)
    monkeypatch.setattr(one_voice, "analyse_set", lambda _: replace(course, onsets=(), breakdown=None))
    assert any("silent on range" in sentence for sentence in one_voice.find_contradictions(review, one.exercise))
