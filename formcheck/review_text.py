"""The words of a review: a sentence for every code that the analysis gives (`formcheck.core.vocabulary.messages`).

A language could be added here. Nothing that finds, measures or judges imports this module; a review is given its
sentences as the last step of making it.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace

from formcheck.core.model import Finding, Measure, Message, MessageValue, Review
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.messages import NOT_SEEN
from formcheck.core.vocabulary.numbers import HARD, PERCENT, exact, rep_list, write_shown

Parameters = Mapping[str, MessageValue]


def add_words(review: Review) -> Review:
    """The review with a sentence for every code that has none yet."""
    return replace(
        review,
        measures=tuple(_measure_in_words(item) for item in review.measures),
        findings=tuple(_finding_in_words(item) for item in review.findings),
    )


def describe_missing(reason: Message) -> str:
    """Why a measure has no value, in one sentence."""
    return _write(_MISSING, reason)


def describe_finding(finding: Finding) -> str:
    """What a finding says, its title first (KeyError for a code from a newer version, which comes with its text).

    Hard spaces are for the screen; a stored sentence is searched and compared, so it has none.
    """
    if finding.text_coded is None:
        return finding.text
    given = finding.text_coded.parameters
    words = _AFTER_TITLE[finding.text_coded.code](finding, given)
    return f"{given['title']}: {words}".replace(HARD, " ")


def describe_unjudged(finding: Finding) -> str:
    """Why a finding without a value judges nothing: its words without its title."""
    if finding.text_coded is not None:
        with suppress(KeyError, TypeError, ValueError):  # a code or parameters from a newer version
            return _capital(_AFTER_TITLE[finding.text_coded.code](finding, finding.text_coded.parameters))
    # A review from before findings were coded, as every other, holds "title: reason".
    return _capital(finding.text.strip().partition(": ")[2] or finding.text.strip())


# ---------------------------------------------------------------- inside


def _measure_in_words(measure: Measure) -> Measure:
    if measure.missing_reason_coded is None or measure.missing_reason is not None:
        return measure
    return replace(measure, missing_reason=describe_missing(measure.missing_reason_coded))


def _finding_in_words(finding: Finding) -> Finding:
    return replace(finding, text=describe_finding(finding)) if finding.text_coded and not finding.text else finding


Writer = Callable[[Parameters], str]


def _write(writers: Mapping[str, str | Writer], message: Message) -> str:
    """The words for a message; a code or parameters from a newer version get a general sentence."""
    try:
        writer = writers[message.code]
        return writer if isinstance(writer, str) else writer(message.parameters)
    except (KeyError, TypeError, ValueError):
        return f"A newer formcheck says more here than this one knows ({message.code})."


def _texts(given: Parameters, name: str) -> list[str]:
    """The texts of a parameter that lists them."""
    value = given[name]
    return [str(item) for item in value] if isinstance(value, tuple) else [str(value)]


_PLACES = {"front": "the front", "back": "behind", "side": "the side", "oblique": "an angle"}


def _wrong_view(given: Parameters) -> str:
    wanted = [_PLACES[name] for name in _texts(given, "film_from")]
    return f"Not measurable from {_PLACES[str(given['view'])]}; film from {' or '.join(wanted)}."


def _hidden(given: Parameters) -> str:
    part = "body" if given["part"] == "body" else f"{given['part']} side"
    return f"Too much of the {part} was hidden or out of the picture in this rep."


def _margin_too_wide(given: Parameters) -> str:
    return f"From here it could be off by {given['degrees']}° and more, so it is not given."


_MISSING: Mapping[str, str | Writer] = {
    "wrong-view": _wrong_view,
    "no-single-view": "No single camera shows this in this exercise.",
    "not-from-here": "Not measurable from here.",
    "not-in-clip": "This rep is not in this camera's clip.",
    "hidden": _hidden,
    "sides-swapped": "The pose model took the lifter's left for the right in this rep.",
    "body-not-fitted": "How the body stands in space could not be told from this clip.",
    "past-range": "The arm was seen farther up than arms go, so its angle is not given.",
    "margin-not-known": "How exact this would be from here is not known, so it is not given.",
    "margin-too-wide": _margin_too_wide,
    "no-next-rep": "There is no next rep to measure the pause to.",
    "no-top-pause": "There was no pause at the top in this rep.",
    "no-bottom-pause": "There was no pause at the stretched end in this rep.",
    "too-few-reps": "The set has too few complete reps to compare this one with.",
    "torso-still": "The torso hardly moves in this rep, so it cannot lead.",
    "torso-apart": "The torso's movement in this rep does not follow the lift.",
    NOT_SEEN: "The body was hidden or out of the picture.",
}


def _which(finding: Finding, given: Parameters) -> str:
    return "every rep" if len(finding.reps) == given["judged"] else rep_list(finding.reps)


def _limit(value: float, finding: Finding, given: Parameters) -> str:
    return exact(value, str(given["unit"]), percent=finding.measure in PERCENT)


def _seen(finding: Finding, given: Parameters) -> str:
    """What was measured, in which rep, and what was asked for."""
    unit = str(given["unit"])
    shown = write_shown(_float(given, "value"), _float(given, "margin"), _int(given, "decimals"), unit, finding.measure)
    place = f"rep {given['rep']}" + (f", {given['side']} side" if "side" in given else "")
    bound = {"at_least": "at least", "at_most": "at most"}[str(given["bound"])]
    wanted = _limit(finding.limit or 0.0, finding, given)
    return f"{MEASURES[finding.measure].plain} {shown} in {place}; wanted {bound} {wanted}"


def _met(finding: Finding, given: Parameters) -> str:
    return f"met in {_which(finding, given)} (nearest to the limit: {_seen(finding, given)})."


def _not_met(finding: Finding, given: Parameters) -> str:
    return f"not met in {_which(finding, given)} (farthest off: {_seen(finding, given)}). {given['cue']}"


def _within_tolerance(finding: Finding, given: Parameters) -> str:
    spare = _limit(_float(given, "tolerance"), finding, given)
    return (
        f"not kept in {_which(finding, given)}, yet not by more than the {spare} that are let pass and the "
        f"margin together ({_seen(finding, given)})."
    )


def _close(finding: Finding, given: Parameters) -> str:
    return f"too close to call in {_which(finding, given)} ({_seen(finding, given)})."


def _why(given: Parameters) -> str:
    return _lower(describe_missing(Message(str(given["why"]), given)))


def _not_measured(finding: Finding, given: Parameters) -> str:
    return f"could not be told in {_which(finding, given)}; {_why(given)}"


_AFTER_TITLE: Mapping[str, Callable[[Finding, Parameters], str]] = {
    "met": _met,
    "not-met": _not_met,
    "within-tolerance": _within_tolerance,
    "close": _close,
    "not-measured": _not_measured,
    "not-shown": lambda finding, given: _why(given),
    "not-measurable": lambda finding, given: _lower(str(given["words"])),
}
"""What findings say behind their title."""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _float(given: Parameters, name: str) -> float:
    return float(given[name])  # type: ignore[arg-type]  # a list is refused with a TypeError


def _int(given: Parameters, name: str) -> int:
    return int(given[name])  # type: ignore[arg-type]  # a list is refused with a TypeError
