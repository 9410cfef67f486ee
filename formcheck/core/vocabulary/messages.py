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

NOTES = _terms(
    MessageTerm("rarely-found", ("percent",), "The lifter was found in only so many per cent of the pictures."),
    MessageTerm("low-frame-rate", ("rate",), "The film has few pictures a second, so times are less exact."),
    MessageTerm("lifter-small", (), "The lifter is small in the picture."),
    MessageTerm("cut-off", ("points",), "These points of the body are out of the picture at times."),
    MessageTerm("other-direction", ("view", "degrees"), "The picture looks so far off the view that was given."),
    MessageTerm("tilted", ("degrees", "margin"), "The picture is tilted, and the angles are turned upright by it."),
    MessageTerm("arm-jumps", ("side", "reps"), "The tracking of an arm jumps, so it is not measured in these reps."),
    MessageTerm(
        "parts-apart",
        ("first_reps", "last_reps", "views"),
        "Each part of a cut clip is measured for itself: its first and last repetition, and the view it is seen from.",
    ),
    MessageTerm("people-alike", (), "Two people are about equally in view."),
    MessageTerm("other-people", (), "Other people are in view."),
    MessageTerm("clip-cut", ("at_s", "more"), "The clip is cut at these seconds, and so many times more."),
    MessageTerm("phone-moved", (), "The phone moved while filming."),
    MessageTerm("longest-part-only", (), "The clip is cut, and beside a second camera only its longest part is used."),
    MessageTerm(
        "exercise-not-seen",
        ("exercise", "reasons"),
        "No movement of the clip is the exercise (its name); `reasons` are codes of the next table.",
    ),
    MessageTerm(
        "not-counted",
        ("at_s", "reasons", "more"),
        "The movements at these seconds do not look like the exercise, each for a reason of the next table, and so "
        "many more.",
    ),
)
"""What limits a clip: code → term."""

UNLIKE = _terms(
    MessageTerm("torso-bent-over", (), "The torso is bent far over."),
    MessageTerm("torso-upright", (), "The torso is upright."),
    MessageTerm("torso-still", (), "The torso hardly bends."),
    MessageTerm("knees-as-in-squat", (), "The knees bend as in a squat."),
    MessageTerm("knees-still", (), "The knees hardly bend."),
    MessageTerm("one-arm-only", (), "One arm works while the other hardly moves."),
    MessageTerm("hands-not-overhead", (), "The hands do not go overhead."),
    MessageTerm("hands-hang", (), "The hands hang instead of starting at the shoulders."),
    MessageTerm("elbows-straight", (), "The elbows are straight where a press starts."),
    MessageTerm("elbows-still", (), "The elbows hardly bend."),
    MessageTerm("upper-arms-rise", (), "The upper arms go up."),
    MessageTerm("hands-above-shoulders", (), "The hands go above the shoulders."),
    MessageTerm("arms-not-at-shoulders", (), "The arms are not at shoulder height."),
    MessageTerm("elbows-bring-hand", (), "The elbows are bent as to bring a hand to the body or the face."),
    MessageTerm("hand-to-face", (), "A hand goes to the face."),
    MessageTerm("forearms-fold", (), "The forearms fold up over the elbows."),
    MessageTerm("elbows-over-arms", (), "The elbows bend more than the arms go up."),
    MessageTerm("upper-arms-still", (), "The upper arms hardly move."),
    MessageTerm("arms-not-ahead", (), "The arms do not go up ahead."),
    MessageTerm("arms-not-aside", (), "The arms do not go up to the sides."),
    MessageTerm("arms-low", (), "The arms hardly go up."),
)
"""Why a movement is no repetition of the exercise: code → term."""

CORRECTIONS = _terms(
    MessageTerm("exercise-set", (), "The exercise was set by hand."),
    MessageTerm("part-left-out", ("start_s", "end_s"), "A part of the clip is not part of the set."),
    MessageTerm("rep-deleted", ("at_s",), "A repetition found there was deleted."),
    MessageTerm("rep-added", ("number", "start_s", "end_s"), "A repetition was added."),
    MessageTerm("rep-timed", ("number", "start_s", "end_s"), "A repetition has its times set by hand."),
)
"""What a person corrected: code → term."""
