"""The words of a review: a sentence for every code that the analysis gives (`formcheck.core.vocabulary.messages`).

A language could be added here. Nothing that finds, measures or judges imports this module; a review is given its
sentences as the last step of making it.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace

from formcheck.core.model import Finding, Measure, Message, MessageValue, Quality, Review
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.messages import NOT_SEEN
from formcheck.core.vocabulary.numbers import HARD, PERCENT, exact, moment, rep_list, write_shown

Parameters = Mapping[str, MessageValue]


def add_words(review: Review) -> Review:
    """The review with a sentence for every code that has none yet."""
    second = review.second
    return replace(
        review,
        quality=_quality_in_words(review.quality),
        second=None if second is None else replace(second, quality=_quality_in_words(second.quality)),
        by_hand=review.by_hand or tuple(map(describe_correction, review.by_hand_coded)),
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


def describe_note(note: Message) -> str:
    """What limits a clip and what to film instead, in a sentence or two."""
    return _write(_NOTES, note)


def describe_correction(correction: Message) -> str:
    """What a person corrected, in one sentence."""
    return _write(_CORRECTIONS, correction)


# ---------------------------------------------------------------- inside


def _quality_in_words(quality: Quality) -> Quality:
    return replace(quality, notes=quality.notes or tuple(map(describe_note, quality.notes_coded)))


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


def _rarely_found(given: Parameters) -> str:
    return f"The lifter was found in only {given['percent']}% of the frames: film with more light and nothing in front."


def _low_frame_rate(given: Parameters) -> str:
    return f"{given['rate']} frames a second is few: times are less exact; film with 30 or more."


def _cut_off(given: Parameters) -> str:
    points = ", ".join(" ".join(name.split("_")) for name in _texts(given, "points"))
    return f"Out of the picture at times: {points}. Move the phone back so that nothing is cut off."


def _other_direction(given: Parameters) -> str:
    return (
        f"You said the camera stands at the {given['view']}, but the picture looks {given['degrees']}° off that: "
        "angles may be wrong."
    )


def _tilted(given: Parameters) -> str:
    return (
        f"The picture is tilted by about {given['degrees']}° (give or take {given['margin']}°), taken "
        "from the trunk, and the angles are turned upright by it. If the lifter leaned to one side through the whole "
        "set instead, the arms' height against the vertical is off by as much: set the phone level to be sure."
    )


def _arm_jumps(given: Parameters) -> str:
    numbers = _texts(given, "reps")
    reps = f"rep {numbers[0]}" if len(numbers) == 1 else f"reps {', '.join(numbers[:-1])} and {numbers[-1]}"
    return (
        f"The tracking of the {given['side']} arm jumps in {reps}, so that arm is not measured there: "
        "film with more light, and nobody beside or behind the lifter."
    )


_SEEN_FROM = {"front": "the front", "back": "behind", "left": "the left", "right": "the right", "oblique": "an angle"}


def _parts_apart(given: Parameters) -> str:
    views = _texts(given, "views")
    parts = []
    for first, last, view in zip(_floats(given, "first_reps"), _floats(given, "last_reps"), views, strict=True):
        where = f" from {_SEEN_FROM[view]}" if len(set(views)) > 1 else ""
        parts.append(f"{rep_list(range(int(first), int(last) + 1))}{where}")
    return (
        f"What lies between its parts is not known, so each is measured for itself ({'; '.join(parts)}), "
        "and early and late reps are compared only within the part with most reps."
    )


def _clip_cut(given: Parameters) -> str:
    times = ", ".join(f"{t:.1f} s" for t in _floats(given, "at_s"))
    more = " and more often" if given["more"] else ""
    return f"The clip is cut at {times}{more}: a repetition that a cut goes through is not counted."


def _exercise_not_seen(given: Parameters) -> str:
    reasons = "; ".join(_UNLIKE[code] for code in _texts(given, "reasons"))
    return f"The exercise was not seen in this clip ({given['exercise']}): {reasons}."


def _not_counted(given: Parameters) -> str:
    named = zip(_floats(given, "at_s"), _texts(given, "reasons"), strict=True)
    places = ", ".join(f"{moment(at_s)} ({_UNLIKE[code]})" for at_s, code in named)
    more = " and more" if given["more"] else ""
    return f"Not counted, as it does not look like the exercise: the movement at {places}{more}."


_NOTES: Mapping[str, str | Writer] = {
    "rarely-found": _rarely_found,
    "low-frame-rate": _low_frame_rate,
    "lifter-small": "The lifter is small in the picture: move the phone closer.",
    "cut-off": _cut_off,
    "other-direction": _other_direction,
    "tilted": _tilted,
    "arm-jumps": _arm_jumps,
    "parts-apart": _parts_apart,
    "people-alike": (
        "Two people are about equally in view: see in the pictures whether the right one is measured, "
        "and film with nobody else in the picture."
    ),
    "other-people": ("Other people are in view; the one who trains is followed. Film with nobody else in the picture."),
    "clip-cut": _clip_cut,
    "phone-moved": ("The phone moved while filming; its movement is taken out as far as it can be. Put it on a stand."),
    "longest-part-only": "The clip is cut: beside a second camera only its longest part is used.",
    "exercise-not-seen": _exercise_not_seen,
    "not-counted": _not_counted,
}

_UNLIKE: Mapping[str, str] = {
    "torso-bent-over": "the torso is bent far over",
    "torso-upright": "the torso is upright",
    "torso-still": "the torso hardly bends",
    "knees-as-in-squat": "the knees bend as in a squat",
    "knees-still": "the knees hardly bend",
    "one-arm-only": "one arm works while the other hardly moves",
    "hands-not-overhead": "the hands do not go overhead",
    "hands-hang": "the hands hang instead of starting at the shoulders",
    "elbows-straight": "the elbows are straight where a press starts",
    "elbows-still": "the elbows hardly bend",
    "upper-arms-rise": "the upper arms go up",
    "hands-above-shoulders": "the hands go above the shoulders",
    "arms-not-at-shoulders": "the arms are not at shoulder height",
    "elbows-bring-hand": "the elbows are bent as to bring a hand to the body or the face",
    "hand-to-face": "a hand goes to the face",
    "forearms-fold": "the forearms fold up over the elbows",
    "elbows-over-arms": "the elbows bend more than the arms go up",
    "upper-arms-still": "the upper arms hardly move",
    "arms-low": "the arms hardly go up",
    "arms-not-ahead": "the arms do not go up ahead",
    "arms-not-aside": "the arms do not go up to the sides",
}
"""Why a movement is not the exercise."""


def _part_left_out(given: Parameters) -> str:
    return f"{_span(given)} of the clip is not part of the set."


def _rep_deleted(given: Parameters) -> str:
    return f"A rep found at {moment(_float(given, 'at_s'))} was deleted."


def _rep_added(given: Parameters) -> str:
    return f"Rep {given.get('number')} ({_span(given)}) was added by hand."


def _rep_timed(given: Parameters) -> str:
    return f"Rep {given.get('number')} ({_span(given)}) has its times set by hand."


def _span(given: Parameters) -> str:
    return f"{moment(_float(given, 'start_s'))} to {moment(_float(given, 'end_s'))}"


_CORRECTIONS: Mapping[str, str | Writer] = {
    "exercise-set": "The exercise was set by hand.",
    "part-left-out": _part_left_out,
    "rep-deleted": _rep_deleted,
    "rep-added": _rep_added,
    "rep-timed": _rep_timed,
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


def _floats(given: Parameters, name: str) -> list[float]:
    value = given[name]
    return [float(item) for item in value] if isinstance(value, tuple) else [float(value)]


def _int(given: Parameters, name: str) -> int:
    return int(given[name])  # type: ignore[arg-type]  # a list is refused with a TypeError
