"""Reads sentences of reviews from before there were codes; the sentences stay as they are stored."""

import re
from collections.abc import Mapping

from formcheck.core.model import Message, MessageValue

_PLACES = {"the front": "front", "behind": "back", "the side": "side", "an angle": "oblique"}
_PLACE = "|".join(_PLACES)
# The sentences as they were written; they are never changed with the words of `formcheck.review_text`.
_MISSING: Mapping[str, str] = {
    "wrong-view": rf"Not measurable from (?P<view>{_PLACE})[;:] film from (?P<film_from>.*)\.",
    "no-single-view": r"No single camera shows this in this exercise\.",
    "not-in-clip": r"This rep is not in this camera's clip\.",
    "hidden": r"Too much of the (?P<part>left|right|body)(?: side)? was hidden or out of the picture in this rep\.",
    "sides-swapped": r"The pose model took the lifter's left for the right in this rep\.",
    "body-not-fitted": r"How the body stands in space could not be told from this clip\.",
    "past-range": r"The arm was seen farther up than arms go, so its angle is not given\.",
    "margin-not-known": r"How exact this would be from here is not known, so it is not given\.",
    "margin-too-wide": r"From here it could be off by (?P<degrees>\d{1,6})° and more, so it is not given\.",
    "no-next-rep": r"There is no next rep to measure the pause to\.",
    "no-top-pause": r"There was no pause at the top in this rep\.",
    "no-bottom-pause": r"There was no pause at the stretched end in this rep\.",
    "too-few-reps": r"The set has too few complete reps to compare this one with\.",
    "torso-still": r"The torso hardly moves in this rep, so it cannot lead\.",
    "torso-apart": r"The torso's movement in this rep does not follow the lift\.",
}


def read_unjudged(sentence: str) -> str:
    """The reason in a finding's sentence "title: reason", with a capital; all of it where there is no title."""
    reason = sentence.strip().partition(": ")[2] or sentence.strip()
    return reason[:1].upper() + reason[1:]


def code_missing_reason(sentence: str) -> Message | None:
    """The code of an older review's sentence on why a measure has no value; None for one that was never written."""
    for code, pattern in _MISSING.items():
        found = re.fullmatch(pattern, sentence)
        if found:
            return Message(code, {name: _read_value(name, text) for name, text in found.groupdict().items()})
    return None


def _read_value(name: str, text: str) -> MessageValue:
    if name == "degrees":
        return int(text)
    if name == "film_from":
        return tuple(_PLACES[text_of_place] for text_of_place in text.split(" or ") if text_of_place in _PLACES)
    return _PLACES.get(text, text)
