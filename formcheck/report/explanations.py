"""Explanations of measures and curves for tooltips: what each is and what it was read from."""

from statistics import median

from formcheck.core.model import Review
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.report import wording

_ORIGIN = {
    "deg": "Read from the body points found in each picture",
    "deg/s": "How fast the angle read from the body points changes",
    "s": "Timed between the pictures in which the movement starts and stops",
    "ratio": "Read from the body points found in each picture, as one length or range over another",
    "none": "Computed from how fast the angle read from the body points changes",
}
MARGIN_ORIGIN = (
    "The margin holds in 95 of 100 cases; it was found on rendered people whose true joint angles are known."
)


def explain_measure(name: str, review: Review) -> str:
    """What a measure is, what it was read from, and what its margin means; empty for an unknown name."""
    term = MEASURES.get(name)
    if term is None:
        return ""
    return f"{term.meaning} {_ORIGIN[term.unit]}, {_describe_filming(review, name)}. {MARGIN_ORIGIN}"


def explain_signal(name: str, review: Review) -> str:
    """What a curve shows and what it was read from; empty for an unknown name."""
    term = SIGNALS.get(name)
    if term is None:
        return ""
    shown = wording.capitalise(wording.get_signal_name(name))
    return f"{shown}, picture by picture. {_ORIGIN[term.unit]}, {_describe_filming(review, name)}."


def find_signal_margin(name: str, review: Review) -> float | None:
    """The usual margin of a single value of a curve, in its unit: the median of those of the numbers read from it."""
    unit = SIGNALS[name].unit if name in SIGNALS else ""
    margins = [
        item.margin
        for item in review.measures
        if item.name.startswith(f"{name}_") and item.unit == unit and item.margin is not None
    ]
    return median(margins) if margins else None


def _describe_filming(review: Review, name: str) -> str:
    """From where it was filmed, and by which camera of a pair."""
    first = _lower_first(wording.describe_view(review.view))
    if review.second is None:
        return first
    used = {item.camera for item in review.measures if item.name == name and item.camera is not None}
    second = f"{_lower_first(wording.describe_view(review.second.view))} by the second camera"
    if used == {"second"}:
        return second
    return first if used <= {"first"} else f"{first} and {second}"


def _lower_first(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"
