"""The words of a review: a sentence for every code that the analysis gives (`formcheck.core.vocabulary.messages`).

They stand in ``review_text.toml`` beside this module, where a language could be added. Nothing that finds, measures or
judges imports this module; a review is given its sentences as the last step of making it.
"""

import tomllib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from formcheck.core.model import Finding, Measure, Message, Quality, Review
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import HARD, PERCENT, format_limit, format_moment, format_reps, format_rounded
from formcheck.core.vocabulary.sentences import (
    Formats,
    join_words,
    list_texts,
    write_moment,
    write_points,
    write_sentence,
)
from formcheck.formats.older_reviews import read_unjudged

TEMPLATES: Mapping[str, Mapping[str, str]] = tomllib.loads(
    Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
)
"""Kind of message → code → its sentence."""


def add_words(review: Review) -> Review:
    """The review with a sentence for every code that has none yet."""
    second = review.second
    return replace(
        review,
        quality=_add_notes(review.quality),
        second=None if second is None else replace(second, quality=_add_notes(second.quality)),
        by_hand=review.by_hand or tuple(map(describe_correction, review.by_hand_coded)),
        measures=tuple(map(_add_missing_reason, review.measures)),
        findings=tuple(
            replace(item, text=describe_finding(item)) if item.text_coded and not item.text else item
            for item in review.findings
        ),
    )


def _add_notes(quality: Quality) -> Quality:
    return replace(quality, notes=quality.notes or tuple(map(describe_note, quality.notes_coded)))


def _add_missing_reason(measure: Measure) -> Measure:
    if measure.missing_reason_coded is None or measure.missing_reason is not None:
        return measure
    return replace(measure, missing_reason=describe_missing(measure.missing_reason_coded))


def describe_missing(reason: Message) -> str:
    """Why a measure has no value, in one sentence."""
    return _write("missing", reason)


def describe_note(note: Message) -> str:
    """What limits a clip and what to film instead, in a sentence or two."""
    return _write("notes", note)


def describe_correction(correction: Message) -> str:
    """What a person corrected, in one sentence."""
    return _write("corrections", correction)


def describe_finding(finding: Finding) -> str:
    """What a finding says, its title first (KeyError for a code from a newer version, which comes with its text).

    Hard spaces are for the screen; a stored sentence is searched and compared, so it has none.
    """
    if finding.text_coded is None:
        return finding.text
    return f"{finding.text_coded.parameters['title']}: {_write_finding(finding, finding.text_coded)}".replace(HARD, " ")


def describe_unjudged(finding: Finding) -> str:
    """Why a finding without a value judges nothing: its words without its title."""
    if finding.text_coded is not None:
        with suppress(KeyError, TypeError, ValueError):  # a code or parameters from a newer version
            words = _write_finding(finding, finding.text_coded)
            return words[:1].upper() + words[1:]
    return read_unjudged(finding.text)


def _write(part: str, message: Message) -> str:
    """The sentence of a message; a code or parameters from a newer version get a general one."""
    try:
        given = {"number": None, **message.parameters}
        if message.code == "parts-apart":
            given["parts"] = _write_parts(given)
        if message.code == "not-counted":
            named = zip(_list_numbers(given["at_s"]), list_texts(given["reasons"]), strict=True)
            given["movements"] = ", ".join(
                f"{format_moment(at_s)} ({TEMPLATES['unlike'][code]})" for at_s, code in named
            )
        return write_sentence(TEMPLATES[part][message.code], given, _FORMATS)
    except (KeyError, TypeError, ValueError):
        return f"A newer formcheck says more here than this one knows ({message.code})."


def _write_parts(given: Mapping[str, object]) -> str:
    """The reps of each part of a clip that is cut, and from where they are seen where that differs."""
    ends = zip(_list_numbers(given["first_reps"]), _list_numbers(given["last_reps"]), strict=True)
    views = list_texts(given["views"])
    several = len(set(views)) > 1
    return "; ".join(
        format_reps(range(int(first), int(last) + 1)) + (f" from {_SIDES[view]}" if several else "")
        for (first, last), view in zip(ends, views, strict=True)
    )


def _write_finding(finding: Finding, message: Message) -> str:
    """What a finding says behind its title."""
    given: Mapping[str, Any] = message.parameters
    unit = str(given.get("unit"))

    def write_limit(value: float) -> str:
        return format_limit(value, unit, percent=finding.measure in PERCENT)

    shown: dict[str, object] = {
        "which": "every rep" if len(finding.reps) == given.get("judged") else format_reps(finding.reps)
    }
    if "value" in given:
        value, margin, decimals = (float(given[name]) for name in ("value", "margin", "decimals"))
        number = format_rounded(value, margin, int(decimals), unit, finding.measure)
        place = f"rep {given['rep']}" + (f", {given['side']} side" if "side" in given else "")
        place += f", the {given['lower']} lower" if "lower" in given else ""
        bound = {"at_least": "or more", "at_most": "or less"}[str(given["bound"])]
        wanted = f"target {write_limit(finding.limit or 0.0)} {bound}"
        shown["seen"] = f"{MEASURES[finding.measure].plain} {number} in {place}; {wanted}"
        if finding.kind == "change":
            shown["which"] = (
                f"from rep {given['from_rep']} on" if given["from_rep"] else f"in {format_reps(finding.reps)}"
            )
            shown["seen"] = f"{number} {given['word']} than in your first three reps (most in {place}; {wanted})"
    if "tolerance" in given:
        shown["spare"] = write_limit(float(given["tolerance"]))
    if "why" in given:
        shown["why"] = _lower(describe_missing(Message(str(given["why"]), given)))
    return write_sentence(TEMPLATES["findings"][message.code], {**given, **shown}, _FORMATS)


def _lower(text: object) -> str:
    return str(text)[:1].lower() + str(text)[1:]


def _list_numbers(value: object) -> list[float]:
    return [float(item) for item in list_texts(value)]


_PLACES = {"front": "the front", "back": "behind", "side": "the side", "oblique": "an angle"}
_SIDES = {"front": "the front", "back": "behind", "left": "the left", "right": "the right", "oblique": "an angle"}
_ARMS = {"both": "with both arms at once", "one": "with one arm at a time", "alternating": "with both arms in turn"}
_FORMATS: Formats = {
    "sides": lambda sides: _ARMS[str(sides)],
    "place": lambda names: " or ".join(_PLACES[name] for name in list_texts(names)),
    "part": lambda part: "body" if part == "body" else f"{part} side",
    "moment": write_moment,
    "seconds": lambda times: ", ".join(f"{t:.1f} s" for t in _list_numbers(times)),
    "points": write_points,
    "reps": lambda reps: f"rep{'s' if len(list_texts(reps)) > 1 else ''} {join_words(list_texts(reps))}",
    "unlike": lambda codes: "; ".join(TEMPLATES["unlike"][code] for code in list_texts(codes)),
    "often": lambda more: " and more often" if more else "",
    "more": lambda more: " and more" if more else "",
    "lower": _lower,
}
