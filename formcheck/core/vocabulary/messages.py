"""The codes of what a review tells in words, with the parameters each has; the words are in `formcheck.review_text`."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MessageTerm:
    """One code.

    Parameters
    ----------
    code : lower-case words joined by hyphens; published in the review document, never renamed.
    parameters : names of its parameters.
    meaning : what it says, for the documentation.
    """

    code: str
    parameters: tuple[str, ...]
    meaning: str


def _terms(*terms: MessageTerm) -> Mapping[str, MessageTerm]:
    return {term.code: term for term in terms}


MISSING = _terms(
    MessageTerm(
        "wrong-view",
        ("view", "film_from"),
        "The camera stood where this cannot be seen, at the `front`, `back`, `side` or between front and side "
        "(`oblique`); `film_from` lists the places it can be seen from.",
    ),
    MessageTerm("no-single-view", (), "No single camera shows it in this exercise."),
    MessageTerm("not-from-here", (), "It cannot be measured from here."),
    MessageTerm("not-in-clip", (), "The repetition is not in this camera's clip."),
    MessageTerm("hidden", ("part",), "The `left` or `right` side, or the `body`, was hidden or out of the picture."),
    MessageTerm("sides-swapped", (), "Left and right of the lifter were mixed up in this repetition."),
    MessageTerm("body-not-fitted", (), "How the body stands in space could not be told."),
    MessageTerm("past-range", (), "The arm was seen farther up than arms go."),
    MessageTerm("margin-not-known", (), "How exact the number would be from here is not known."),
    MessageTerm("margin-too-wide", ("degrees",), "The number could be off by so many degrees and more."),
    MessageTerm("no-next-rep", (), "There is no next repetition to measure the pause to."),
    MessageTerm("no-top-pause", (), "There was no pause at the top."),
    MessageTerm("no-bottom-pause", (), "There was no pause at the stretched end."),
    MessageTerm("too-few-reps", (), "The set has too few complete repetitions to compare this one with."),
    MessageTerm("torso-still", (), "The torso hardly moves, so it cannot lead."),
    MessageTerm("torso-apart", (), "The torso's movement does not follow the lift."),
)
"""Why a measure has no value: code → term."""

_VALUE = ("title", "judged", "value", "margin", "decimals", "unit", "rep", "side", "bound")
FINDINGS = _terms(
    MessageTerm("met", _VALUE, "The limit is kept."),
    MessageTerm("not-met", (*_VALUE, "cue"), "The limit is not kept."),
    MessageTerm("within-tolerance", (*_VALUE, "tolerance"), "Not kept, but by no more than tolerance and margin."),
    MessageTerm("close", _VALUE, "Too close to call."),
    MessageTerm("not-measured", ("title", "judged", "why"), "The repetitions it speaks of have no number."),
    MessageTerm("not-shown", ("title", "why"), "No number could be had of any repetition from this camera's side."),
    MessageTerm("not-measurable", ("title", "words"), "No single camera shows it; `words` are the exercise's own."),
)
"""What a finding says: code → term. `why` is a code of `MISSING`, whose parameters stand beside it."""
NOT_SEEN = "not-seen"
"""Why repetitions have no number where their measures' reasons differ: the body was hidden or out of the picture."""
