"""Chooses the one thing to change first."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from formcheck.core.model import Finding, Review
from formcheck.exercises.schema import Check, Exercise
from formcheck.report import wording
from formcheck.verdicts import compute_excess, find_margin, format_evidence, get_judged_check

SIZE_CAP = 4.0
"""One wild rep must not outweigh a fault that shows in every rep."""


@dataclass(frozen=True, slots=True)
class NextCue:
    """What to change first, and why this."""

    check: str
    title: str
    cue: str
    why: str
    """One sentence: in how many reps, how far off, what it spares."""
    reps: tuple[int, ...]
    at_s: float | None
    """The moment that shows it best, seconds of the clip."""


def choose_next_cue(review: Review, exercise: Exercise | None) -> NextCue | None:
    """The one point to change first; None when nothing was found to change.

    Points that spare a part of the body come before all others. Within each kind the one with the largest product
    of frequency (share of the reps judged, 0..1) and size wins. The size is how far the worst rep lies beyond the
    limit, in faults that a coach would name (`Check.fault_at`), at most `SIZE_CAP`. Equal ones go by the exercise's
    own order. Where the exercise's file is gone, only the frequency is known. Source: common practice.
    """
    checks = {check.id: check for check in exercise.checks} if exercise else {}
    wrong = [finding for finding in review.findings if finding.verdict == "not_met" and finding.reps]
    if not wrong:
        return None
    first = max(wrong, key=lambda finding: _compute_weight(finding, checks.get(finding.check), review.findings))
    check = checks.get(first.check)
    check = get_judged_check(check, first) if check and first.kind == "change" else check
    return NextCue(
        check=first.check,
        title=check.title if check else wording.capitalise(first.check.replace("-", " ")),
        cue=check.cue if check else first.text,
        why=_explain_choice(first, check, review),
        reps=first.reps,
        at_s=first.at_s,
    )


def _compute_weight(finding: Finding, check: Check | None, findings: Sequence[Finding]) -> tuple[bool, float]:
    return bool(check and check.protects), _compute_share(finding, findings) * _compute_size(finding, check)


def _compute_share(finding: Finding, findings: Sequence[Finding]) -> float:
    """Share of the reps judged, yes or no, in which the point was not met."""
    judged = {
        rep for other in findings if other.check == finding.check and other.value is not None for rep in other.reps
    }
    return len(finding.reps) / max(len(judged | set(finding.reps)), 1)


def _compute_size(finding: Finding, check: Check | None) -> float:
    """How far beyond the limit, in faults that a coach would name."""
    if check is None or finding.value is None or not isfinite(finding.value):
        return 1.0
    limited = get_judged_check(check, finding)
    beyond = compute_excess(limited, finding.value)
    # A check that names no fault is judged in its tolerance, or in tenths of its limit; a change in what may be.
    named = 0.0 if check.fault_at is None else abs(check.fault_at - check.limit)
    step = named or check.tolerance or abs(check.limit) / 10 or 1.0
    if finding.kind == "change":
        step = limited.limit
    return min(max(beyond / step, 0.0), SIZE_CAP)


def _explain_choice(finding: Finding, check: Check | None, review: Review) -> str:
    reps = wording.capitalise(wording.format_reps(finding.reps, len(review.reps)))
    parts = [f"{reps} of {len(review.reps)}" if 1 < len(finding.reps) < len(review.reps) else reps]
    item = wording.find_quoted_measure(review, finding)
    if check is not None and finding.value is not None:
        judged = get_judged_check(check, finding)
        shown = format_evidence(judged, finding.value, find_margin(finding, item))
        asked = wording.format_bound(judged)
        name = wording.describe_change(finding) or wording.get_measure_name(finding.measure)
        parts.append(f"{name} {shown}{wording.format_origin_mark(item)}, asked for: {asked}")
    text = ": ".join(parts)
    if check is not None and check.protects:
        return f"{text}. First because it spares the {check.protects}."
    others = sum(other.verdict == "not_met" for other in review.findings)
    return f"{text}. Chosen from {others} points for its size and the number of reps." if others > 1 else f"{text}."
