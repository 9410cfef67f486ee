"""Plain words for numbers, moments and verdicts, shared by the report and the page."""

from collections.abc import Mapping, Sequence
from typing import Literal, cast

from formcheck.coaching.note import SetNote
from formcheck.core.model import (
    CameraUsed,
    CameraView,
    Finding,
    Grade,
    MarginOrigin,
    Measure,
    Quality,
    Rep,
    Review,
    SetInfo,
    Side,
    ViewName,
)
from formcheck.core.rep_sides import count_by_side
from formcheck.core.vocabulary import SIGNALS
from formcheck.core.vocabulary import get_plain_name as get_plain_name
from formcheck.core.vocabulary.numbers import HARD, PERCENT, format_decimals, format_limit, round_up
from formcheck.core.vocabulary.numbers import NOT_MEASURED as NOT_MEASURED
from formcheck.core.vocabulary.numbers import format_day as format_day
from formcheck.core.vocabulary.numbers import format_moment as format_moment
from formcheck.core.vocabulary.numbers import format_number as format_number
from formcheck.core.vocabulary.numbers import format_reps as format_reps
from formcheck.core.vocabulary.numbers import format_time as format_time
from formcheck.core.vocabulary.numbers import format_with_margin as format_with_margin
from formcheck.core.vocabulary.problems import blocks_review
from formcheck.core.vocabulary.sentences import join_words
from formcheck.exercises.schema import Check, Exercise
from formcheck.report.problem_text import describe_problems, format_confidence, is_review_blocked
from formcheck.report.sides_text import describe_sides
from formcheck.report.words import WORDS
from formcheck.verdicts import grade_points

ShownGrade = Grade | Literal["unseen"]
"""A grade, or that nothing could be seen."""
GRADE_WORDS = cast("Mapping[ShownGrade, str]", WORDS["grades"])
GRADE_NOTES = cast("Mapping[ShownGrade, str]", WORDS["grade_notes"])
GRADE_SIGNS = cast("Mapping[ShownGrade, str]", WORDS["grade_signs"])
SHOWN_ORDER: tuple[ShownGrade, ...] = ("not_met", "probably_not_met", "met", "probably_met", "close", "unseen")
"""Grades as they are listed: what is to change first, what could not be judged last."""

VIEW_WORDS: dict[ViewName, str] = {
    "front": "from the front",
    "back": "from behind",
    "left": "from the lifter's left",
    "right": "from the lifter's right",
    "oblique": "at an angle, between front and side",
}

READING = tuple(WORDS["reading"].items())
"""What a reader needs to know about the numbers: (what, how to read it)."""

_ORIGIN_NOTES: dict[MarginOrigin, tuple[str, str]] = {
    "analogy": ("*", "margin by analogy: taken, wider, from a similar view or exercise"),
    "hand": ("†", "margin by hand: set by judgement"),
}
"""The mark beside a number, and what it says, once a review; a measured margin needs none."""

_CAMERA_MARKS: dict[CameraUsed, str] = {"first": "1", "second": "2", "both": "1+2"}

NO_CLIENT = "no client"
"""What stands in the place of a client's name where a set has none."""

TEMPO_ORDER = "Tempo: lowering – pause – lifting – pause, in seconds; · where no rep follows."


def format_tempo(rep: Rep, *, last: bool) -> str:
    """The rep's tempo, such as ``2.0-0.5-1.2-0.4``; the pause after the last rep leads to nothing and is left open."""
    digits = list(rep.tempo.digits())
    if last:
        digits[3 if rep.top_s >= rep.end_s else 1] = "·"
    return "-".join(digits)


def format_check_limit(check: Check) -> str:
    """``88° or more (tolerance 8°)``."""
    spare = format_limit(check.tolerance, check.unit, percent=check.measure in PERCENT) if check.tolerance else ""
    return format_bound(check) + (f" (tolerance {spare})" if spare else "")


def format_bound(check: Check) -> str:
    """``88° or more``: the limit without its tolerance."""
    bound = "or more" if check.at_least is not None else "or less"
    return f"{format_limit(check.limit, check.unit, percent=check.measure in PERCENT)} {bound}"


def describe_outdated(check: Check) -> str:
    """That an own limit for a check is stored and not used, since the check is judged by another measure now."""
    return (
        f"Your own limit for “{check.title}” is kept but not used: it was set for another number. "
        f"The point is now judged by: {get_plain_name(check.measure)}."
    )


def format_measure(item: Measure | None) -> str:
    """A measure with its margin, or `NOT_MEASURED`."""
    if item is None:
        return NOT_MEASURED
    return (
        format_with_margin(item.value, item.margin, item.unit, item.name)
        + format_camera_mark(item)
        + format_origin_mark(item)
    )


def format_origin_mark(item: Measure | None) -> str:
    """Beside a number whose margin was not measured, a mark that `explain_marks` explains; empty otherwise."""
    return _ORIGIN_NOTES[item.margin_origin][0] if item and item.margin_origin in _ORIGIN_NOTES else ""


def explain_marks(review: Review) -> str:
    """What the marks beside the review's numbers mean, with a space behind; empty where there are none."""
    used = {item.margin_origin for item in review.measures if item.value is not None}
    return "".join(f"{mark} {words}. " for origin, (mark, words) in _ORIGIN_NOTES.items() if origin in used)


def format_camera_mark(item: Measure | None) -> str:
    """Which of two cameras a number is from, such as ``(2)``; empty with a single camera."""
    return "" if item is None or item.camera is None else f"{HARD}({_CAMERA_MARKS[item.camera]})"


def is_difference(measure: str) -> bool:
    """Whether a measure is how much higher the left arm is than the right one, or its hand."""
    return "difference" in measure


_DIFFERENCES = {"arm_line_difference": "arm", "arm_peak_difference": "arm", "hand_height_difference_top": "hand"}
"""Measures that are the left part's height less the right one's."""


def name_higher_part(measure: str, value: float) -> str:
    """The higher of two parts, such as ``left arm``, for a measure that is their difference; else empty."""
    part = _DIFFERENCES.get(measure)
    return f"{'left' if value > 0 else 'right'} {part}" if part else ""


def get_signal_name(name: str) -> str:
    """The plain words for a signal, with the note on reading its numbers."""
    return f"{SIGNALS[name].plain} ({SIGNALS[name].note})" if SIGNALS[name].note else SIGNALS[name].plain


_POSITIONS: Mapping[str, frozenset[str]] = {
    "side": frozenset({"left", "right"}),
    "front": frozenset({"front"}),
    "back": frozenset({"back"}),
    "angle": frozenset({"oblique"}),
}
"""Word of a place (`words.toml`) and the views it gives."""


def count(amount: int, noun: str) -> str:
    """``1 rep``, ``6 reps``, ``no reps``."""
    return f"{amount or 'no'} {noun}{'' if amount == 1 else 's'}"


def format_rep_count(reps: Sequence[Rep]) -> str:
    """How many reps the set has, complete and partial ones apart, and how many of each arm that works alone."""
    partial = sum(not rep.complete for rep in reps)
    if not reps:
        return "no reps found"
    whole = count(len(reps) - partial, "complete rep")
    text = f"{whole} and {count(partial, 'partial rep')}" if partial else whole
    return text + format_sides(count_by_side(reps))


def format_sides(counts: Mapping[Side, int]) -> str:
    """How many reps each arm made, behind the number of all: `` (4 left, 3 right)``; empty for both at once."""
    shown = ", ".join(f"{number} {side}" for side, number in counts.items())
    return f" ({shown})" if shown else ""


def format_target(info: SetInfo) -> str:
    """The reps aimed for: ``9`` or ``9 each side``."""
    return f"{info.target_reps}{' each side' if info.target_each_side else ''}"


def describe_target(info: SetInfo) -> str:
    """The reps aimed for: ``9 reps`` or ``9 reps each side``."""
    return f"{count(info.target_reps or 0, 'rep')}{' each side' if info.target_each_side else ''}"


def name_reps(complete: int, in_short: str) -> str:
    """``9 reps``, or of arms that work alone ``5 left, 4 right`` (`formcheck.core.rep_sides.format_reps_by_side`)."""
    return count(complete, "rep") if in_short == str(complete) else in_short


def summarise(review: Review) -> str:
    """What the review found, in one or two sentences; what makes it impossible or incomplete comes first."""
    return " ".join([*describe_problems(review), describe_outcome(review)]).strip()


def describe_outcome(review: Review, exercise: Exercise | None = None) -> str:
    """How many reps there are and how they were judged; empty where nothing may be concluded from the clip."""
    points = "" if is_review_blocked(review) or not review.reps else capitalise(describe_points(review, exercise))
    return f"{describe_reps(review)} {points}".strip()


def describe_reps(review: Review) -> str:
    """How many reps there are, and each arm's; empty where nothing may be concluded from the clip."""
    if is_review_blocked(review):
        return ""
    if not review.reps:
        return "No reps of this exercise were found in the clip."
    info = review.set_info
    target = f" (target {format_target(info)})" if info.target_reps else ""
    text = f"{format_rep_count(review.reps).capitalize()}{target}."
    return f"{text.replace(') (', '; ')} {describe_sides(review)}".strip()


def describe_points(review: Review, exercise: Exercise | None = None) -> str:
    """How many points of form could be seen, how many there are of each grade, and, with the exercise, from where more.

    Empty where there are none.
    """
    counts = count_grades(review)
    total, unseen = sum(counts.values()), counts["unseen"]
    words = WORDS["outcome"]
    points = count(total, "point")
    here = "" if review.second else words["from-here"]
    film = describe_better_position(review, exercise) if exercise and unseen else ""
    if total == unseen:
        seen = words["none-seen"].format(points=points, here=here) if total else ""
        return f"{seen} {film}".strip()
    parts = [
        WORDS["grade_counts"][grade].format(amount=counts[grade])
        for grade in SHOWN_ORDER
        if counts[grade] and grade != "unseen"
    ]
    faults = counts["not_met"] + counts["probably_not_met"]
    if not faults and not review.quality.problems:
        # Of a set that was seen in part nobody knows that there is nothing.
        parts.insert(0, words["nothing-in-these" if unseen else "nothing-to-change"])
    template = words["part-seen" if unseen else "all-seen"]
    text = template.format(points=points, seen=total - unseen, counts=join_words(parts), here=here)
    return f"{text} {film}".strip()


def describe_better_position(review: Review, exercise: Exercise) -> str:
    """From where to film to see most of the points that were not seen; empty where no place shows more."""
    unseen = {check for check, grade in grade_points(review).items() if grade is None}
    stood = {review.view.name} | ({review.second.view.name} if review.second else set())
    views = [set(exercise.views_for(check)) for check in exercise.checks if check.id in unseen]
    more = {place: sum(bool(seen & shown) for seen in views if not seen & stood) for place, shown in _POSITIONS.items()}
    best = max(more, key=lambda place: more[place])
    words = WORDS["outcome"]
    return words["film"].format(place=words[best], points=count(more[best], "more point")) if more[best] else ""


def format_probable(amount: int, probable: int) -> str:
    """``5``, ``5 + 2 probably``, ``2 probably``, of `amount` in all."""
    parts = [str(amount - probable)] if amount > probable or not probable else []
    return " + ".join([*parts, f"{probable} probably"] if probable else parts)


def format_undecided(amount: int, close: int) -> str:
    """``4``, ``4 (1 too close)``."""
    return f"{amount} ({close} too close)" if close else str(amount)


def count_grades(review: Review) -> dict[ShownGrade, int]:
    """How many points of form there are of each grade, without those that no camera can show."""
    no_camera = {item.check for item in review.findings if not item.measure}
    grades = [grade or "unseen" for check, grade in grade_points(review).items() if check not in no_camera]
    return {grade: grades.count(grade) for grade in SHOWN_ORDER}


def format_reserve(reps: float) -> str:
    """What the lifter says was still in reserve: ``1 rep left in reserve``."""
    return f"{reps:g} rep{'' if reps == 1 else 's'} left in reserve" if reps else "no reps left in reserve"


def format_note(note: SetNote | None) -> str:
    """The lifter's note on a set in one line; empty without one. Not escaped."""
    if note is None:
        return ""
    pain = {None: None, False: "no pain", True: "pain" + (f" ({note.pain_where})" if note.pain_where else "")}
    parts = [
        pain[note.pain],
        None if note.effort is None else f"effort {note.effort:g} of 10",
        None if note.reps_in_reserve is None else format_reserve(note.reps_in_reserve),
        None if note.sleep_h is None else f"slept {note.sleep_h:g} h",
        note.remark,
    ]
    return " · ".join(part for part in parts if part)


def format_load(kilograms: float | None) -> str:
    """The load as the trade writes it, or empty."""
    return "" if kilograms is None else f"{kilograms:g} kg"


def describe_view(view: CameraView) -> str:
    """Where the camera stood, where the clip tells it."""
    if not is_view_known(view):
        return "Camera side not known"
    return f"Filmed {VIEW_WORDS[view.name]}"


def is_view_known(view: CameraView) -> bool:
    """Whether the clip, or the user, tells where the camera stood."""
    return view.origin == "given" or (view.known and view.yaw_deg is not None)


def explain_view(view: CameraView) -> str:
    """How it is known where the camera stood, with the estimated angle where there is one."""
    if view.origin == "given":
        return f"{describe_view(view)}, as you said."
    if view.yaw_deg is None or not view.known:
        return f"{describe_view(view)}: no rep was found to tell it by."
    margin = "" if view.yaw_margin_deg is None else f"{HARD}±{HARD}{round_up(view.yaw_margin_deg, 0):.0f}°"
    angle = f"{format_decimals(view.yaw_deg, 0)}°{margin}"
    return f"{describe_view(view)}: camera estimated at {angle} (0° = straight in front, 90° = at the lifter’s left)."


def describe_quality(quality: Quality) -> list[str]:
    """What limits the clip, one sentence each; of a clip from which nothing may be concluded only what was noticed."""
    if any(blocks_review(problem.code) for problem in quality.problems):
        return list(quality.notes)
    lines = [
        f"The lifter was found in {quality.tracked_share:.0%} of the pictures ({quality.frame_rate:.3g} a second)."
    ]
    if quality.subject_height_px is not None:
        lines.append(f"The lifter is {quality.subject_height_px:.0f} pixels tall in the picture.")
    for shares, words in ((quality.out_of_frame, "outside the picture"), (quality.low_visibility, "hidden")):
        if shares:
            items = ", ".join(f"{name.replace('_', ' ')} {share:.0%}" for name, share in sorted(shares.items()))
            lines.append(f"Share of the set in which a body point is {words}: {items}.")
    return [*lines, *quality.notes]


MARKS = "Behind a number: (1) read from the first camera, (2) from the second, (1+2) from both."


def describe_second(review: Review) -> list[str]:
    """What the second clip is, how it lies on the first one's clock, and what limits it; empty with one camera."""
    second = review.second
    if second is None:
        return []
    order = "after" if second.offset_s >= 0 else "before"
    return [
        f"Second camera: clip “{second.clip.name}”. {explain_view(second.view)}",
        f"It began {abs(second.offset_s):.2f} s {order} the first "
        f"(± {round_up(second.offset_margin_s, 2):.2f} s), found by the {second.found_by}; "
        f"{format_confidence(second.confidence)} sure that both show the same set this way. "
        f"The reps are read from the {second.reps_from} camera.",
        *(f"Second camera: {line[:1].lower()}{line[1:]}" for line in describe_quality(second.quality)),
        MARKS,
    ]


def describe_change(finding: Finding) -> str:
    """What the value of a finding of the kind *change* is, such as "shallower than in the first three reps by"."""
    if finding.kind != "change" or finding.text_coded is None:
        return ""
    return f"{finding.text_coded.parameters.get('word', 'worse')} than in the first three reps by"


def is_change_of_single_reps(finding: Finding) -> bool:
    """Whether single reps differ from the first ones and most of those that follow do not: nothing went for good."""
    if finding.kind != "change" or finding.text_coded is None:
        return False
    return finding.text_coded.parameters.get("from_rep") == 0


def find_quoted_measure(review: Review, finding: Finding) -> Measure | None:
    """The measure a finding quotes, which holds the margin and the unit of its value."""
    candidates = [m for m in review.measures if m.name == finding.measure]
    inside = [m for m in candidates if m.rep is None or not finding.reps or m.rep in finding.reps] or candidates
    value = finding.value
    if finding.kind == "change" and finding.text_coded is not None:
        place = finding.text_coded.parameters.get("rep"), finding.text_coded.parameters.get("side")
        return next((m for m in candidates if (m.rep, m.side) == place), None)
    if value is None:
        return next((m for m in inside if m.missing_reason), inside[0] if inside else None)
    measured = [m for m in inside if m.value is not None]
    return min(measured, key=lambda m: abs((m.value or 0.0) - value), default=None)


def split_margin(number: str) -> tuple[str, str]:
    """``68° ± 4°`` → ``68°`` and ``4°``; the second empty where the margin is not known."""
    value, _, margin = number.partition(f"{HARD}±{HARD}")
    return value, margin


def capitalise(text: str) -> str:
    """The same words beginning with a capital letter."""
    return text[:1].upper() + text[1:]


CAUTION_IN_SHORT = "Advisory only: stop at once on pain, chest pressure, dizziness or numbness."
"""For whoever has read the cautions, or has the way to all of them beside it."""
ALL_CAUTIONS = "Read all cautions before you train"
"""That way, on the page."""


def describe_caution(where: str) -> str:
    """One sentence of at most 25 words with the way to all cautions: a page, a command, a part of a report."""
    return f"{CAUTION_IN_SHORT.removesuffix('.')}, and read all cautions before you train: {where}."
