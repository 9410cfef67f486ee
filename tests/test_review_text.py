"""Codes and their words: every code has a sentence, and a review from before there were codes is judged as before."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from formcheck.analysis import analyse
from formcheck.core.model import Finding, Message
from formcheck.core.vocabulary.messages import CORRECTIONS, FINDINGS, MISSING, NOTES, UNLIKE, MessageTerm
from formcheck.exercises.registry import get_exercise
from formcheck.findings import judge_again
from formcheck.formats import decode, encode
from formcheck.formats.older_reviews import code_missing_reason
from formcheck.report.summary import group_findings
from formcheck.review_text import (
    describe_correction,
    describe_finding,
    describe_missing,
    describe_note,
    describe_unjudged,
)
from tests import lifter

FORMAT = (Path(__file__).parents[1] / "docs" / "review-format.md").read_text(encoding="utf-8")
VALUES: dict[str, Any] = {
    "at_s": (1.0, 62.5),
    "bound": "at_most",
    "decimals": 0,
    "degrees": 41,
    "first_reps": (1, 4),
    "film_from": ("front", "back"),
    "last_reps": (3, 6),
    "part": "left",
    "points": ("left_wrist", "nose"),
    "reasons": ("hand-to-face", "arms-low"),
    "reps": (2, 5),
    "unit": "deg",
    "view": "side",
    "views": ("front", "left"),
    "done": "alternating",
    "expected": "both",
    "why": "torso-still",
}
"""What parameters hold that are not plain numbers."""


EVERY = [term for terms in (MISSING, FINDINGS, NOTES, UNLIKE, CORRECTIONS) for term in terms.values()]


def message(term: MessageTerm) -> Message:
    return Message(term.code, {name: VALUES.get(name, 3) for name in term.parameters})


@pytest.mark.parametrize("term", EVERY, ids=lambda term: term.code)
def test_every_code_has_its_row_in_the_documentation(term: MessageTerm) -> None:
    assert f"| `{term.code}` | {', '.join(f'`{name}`' for name in term.parameters)} |" in FORMAT


@pytest.mark.parametrize("term", MISSING.values(), ids=lambda term: term.code)
def test_every_reason_is_one_sentence(term: MessageTerm) -> None:
    sentence = describe_missing(message(term))
    assert re.fullmatch(r"[A-Z][^.]+\.", sentence)
    assert "newer formcheck" not in sentence


@pytest.mark.parametrize("term", NOTES.values(), ids=lambda term: term.code)
def test_every_note_has_its_words(term: MessageTerm) -> None:
    assert re.fullmatch(r"[A-Z0-9].+\.", describe_note(message(term)))
    assert "newer formcheck" not in describe_note(message(term))


@pytest.mark.parametrize("term", CORRECTIONS.values(), ids=lambda term: term.code)
def test_every_correction_has_its_words(term: MessageTerm) -> None:
    one = Message(term.code, {name: 61.24 if name.endswith("_s") else 3 for name in term.parameters})
    assert ("1:01.2" in describe_correction(one)) == any(name.endswith("_s") for name in term.parameters)
    assert "newer formcheck" not in describe_correction(one)


def test_what_a_note_says_of_several_places_names_each() -> None:
    parts = Message("parts-apart", {"first_reps": (1, 5), "last_reps": (4, 6), "views": ("front", "left")})
    assert "(reps 1–4 from the front; reps 5 and 6 from the left)" in describe_note(parts)
    unlike = Message("not-counted", {"at_s": (1.0, 62.5), "reasons": tuple(UNLIKE)[:2], "more": 1})
    assert all(time in describe_note(unlike) for time in ("0:01.0", "1:02.5", "and more"))
    for code in UNLIKE:
        assert "newer" not in describe_note(Message("exercise-not-seen", {"exercise": "Raise", "reasons": (code,)}))


@pytest.mark.parametrize("term", FINDINGS.values(), ids=lambda term: term.code)
def test_every_finding_has_its_words(term: MessageTerm) -> None:
    found = Finding("height", "undecided", (2,), "arm_raise_peak", None, 80.0, None, "", "", text_coded=message(term))
    assert describe_finding(found).startswith("3: ")
    assert describe_finding(found) == f"3: {describe_unjudged(found)[0].lower()}{describe_unjudged(found)[1:]}".replace(
        "\u00a0", " "
    )


def test_a_code_of_a_newer_version_is_told_all_the_same() -> None:
    assert "unheard-of" in describe_missing(Message("unheard-of"))
    assert "wrong-view" in describe_missing(Message("wrong-view", {"view": 7}))
    found = Finding(
        "swing", "undecided", (1,), "x", None, None, None, "Swing: no.", "", text_coded=Message("unheard-of")
    )
    assert describe_unjudged(found) == "No."


# As versions wrote them before there were codes.
WRITTEN = {
    "Not measurable from behind; film from the side.": Message("wrong-view", {"view": "back", "film_from": ("side",)}),
    "Not measurable from an angle; film from the front or behind.": Message(
        "wrong-view", {"view": "oblique", "film_from": ("front", "back")}
    ),
    "Too much of the right side was hidden or out of the picture in this rep.": Message("hidden", {"part": "right"}),
    "Too much of the body was hidden or out of the picture in this rep.": Message("hidden", {"part": "body"}),
    "From here it could be off by 40° and more, so it is not given.": Message("margin-too-wide", {"degrees": 40}),
    "There is no next rep to measure the pause to.": Message("no-next-rep"),
    "The front does not show it.": None,
}


@pytest.mark.parametrize("sentence", WRITTEN)
def test_sentences_of_older_reviews_are_known_by_their_code(sentence: str) -> None:
    assert code_missing_reason(sentence) == WRITTEN[sentence]


def without_codes(part: Any) -> Any:
    """A document as it was written before there were codes."""
    if isinstance(part, dict):
        return {key: without_codes(item) for key, item in part.items() if not key.endswith("_coded")}
    return [without_codes(item) for item in part] if isinstance(part, list) else part


@pytest.mark.parametrize("yaw", [0.0, 40.0, 90.0])
@pytest.mark.parametrize("exercise_id", ["lateral-raise", "overhead-lateral-raise"])
def test_a_review_from_before_there_were_codes_is_judged_and_shown_as_before(yaw: float, exercise_id: str) -> None:
    exercise = get_exercise(exercise_id)
    plan = lifter.Set((150.0, 84.0, 152.0) if exercise_id == "overhead-lateral-raise" else (92.0, 60.0, 90.0))
    course = plan.course(lifter.times(plan.length_s))
    film = lifter.film(lifter.times(plan.length_s), left=course, right=course, yaw=yaw)
    new = decode(encode(analyse(film, exercise).review))
    old = decode(json.dumps(without_codes(json.loads(encode(new)))))
    assert [item.text_coded for item in old.findings] == [None] * len(new.findings) != []
    assert judge_again(old, exercise) == judge_again(new, exercise)
    assert group_findings(old, exercise) == group_findings(new, exercise)
