"""One client and one exercise over sessions: what was done, what changed beyond the margin, what the trade would do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from formcheck.coaching.advice import Advice, TrainedSession, advise
from formcheck.coaching.one_rep_max import estimate_one_rep_max
from formcheck.coaching.pain_history import NotedSession, mentions_pain
from formcheck.coaching.plan_adherence import RANGE_MEASURES, DoneSet, compare_with_plan, compute_median
from formcheck.core.errors import UsageError
from formcheck.core.model import SIDES, Review, Side
from formcheck.core.rep_sides import count_by_side
from formcheck.core.vocabulary.numbers import format_day
from formcheck.statistics.comparison import compare_sets
from formcheck.statistics.rep_series import OTHER_DEFINITIONS, take_side
from formcheck.statistics.results import Comparison, OneRepMax, Trend
from formcheck.statistics.set_trends import analyse_set, find_session_trends
from formcheck.statistics.side_trend import find_other_arm


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One session in short."""

    day: date
    plan: str | None
    """The plan that held, as it is written; None without one."""
    sets: tuple[DoneSet, ...]
    load_kg: float | None
    """The heaviest load."""
    complete_reps: int
    volume_kg: float | None
    """Sum of load times complete reps; None when a load is not known."""
    range_deg: float | None
    """Median range of motion of the compared set; None when it could not be measured."""
    range_margin_deg: float | None
    form: str
    """What happened to form in the last set."""
    pain: bool


@dataclass(frozen=True, slots=True)
class Progress:
    """The course of one exercise."""

    exercise_id: str
    exercise_name: str
    set_number: int
    """The set whose numbers are followed from session to session."""
    sessions: tuple[SessionLine, ...]
    trends: tuple[Trend, ...]
    latest: Comparison | None
    """That set in the newest session against the one before; None when either lacks it."""
    one_rep_max: OneRepMax | None
    """From the newest session's set nearest to failure, where reps in reserve were noted."""
    advice: Advice
    sentence: str


def compute_progress(
    sessions: Sequence[TrainedSession], others: Sequence[NotedSession] = (), *, set_number: int = 1
) -> Progress:
    """Follow one exercise over its sessions, the oldest first.

    Parameters
    ----------
    others : what was noted in sessions of the client's other exercises (`formcheck.coaching.advice.advise`).

    Raises UsageError without any session, for sessions of different exercises, or a set number below 1.
    """
    done = [session for session in sessions if session.sets]
    if not done:
        raise UsageError("There is no session of this exercise to tell anything from.")
    reviews = [item.review for session in done for item in session.sets]
    if len({review.exercise.id for review in reviews}) > 1:
        raise UsageError("A course over sessions can be told when all sets are of one exercise.")
    if set_number < 1:
        raise UsageError("Sets are numbered from 1.")
    followed = [_get_review(session, set_number) for session in done]
    known = [review for review in followed if review is not None]
    other_arms = [
        find_other_arm([item.review for item in session.sets], set_number)
        for session, review in zip(done, followed, strict=True)
        if review is not None
    ]
    latest = None
    if len(done) > 1 and followed[-1] is not None and followed[-2] is not None:
        labels = (format_day(done[-2].day), format_day(done[-1].day))
        latest = compare_sets(followed[-2], followed[-1], labels=labels)
    trends = find_session_trends(known, other_arms) if len(known) > 1 else ()
    return Progress(
        reviews[-1].exercise.id,
        reviews[-1].exercise.name,
        set_number,
        tuple(_make_line(session, review) for session, review in zip(done, followed, strict=True)),
        trends,
        latest,
        _estimate_strength(done[-1]),
        advise(done, others),
        _summarise(trends, known, set_number),
    )


def list_followed(session: TrainedSession, set_number: int) -> tuple[Review, ...]:
    """The followed set of a session and, where it is of one arm alone, the other arm's set after it."""
    review = _get_review(session, set_number)
    if review is None:
        return ()
    other = find_other_arm([item.review for item in session.sets], set_number)
    return (review,) if other is None else (review, other)


def find_arm_median(
    followed: Sequence[Review], names: Sequence[str], side: Side | None
) -> tuple[float | None, float | None]:
    """Median and margin of the reps an arm makes, alone or with the other; None: of all reps of the first set."""
    for review in followed[:1] if side is None else followed:
        found = compute_median(review if side is None else take_side(review, side), names)
        if found[0] is not None:
            return found
    return None, None


def list_arms(followed: Sequence[Sequence[Review]]) -> tuple[Side, ...] | tuple[None]:
    """Left and right where a followed set is done with one arm at a time; else the one entry None."""
    one_arm = any(rep.side for reviews in followed for rep in (reviews[0].reps if reviews else ()))
    return SIDES if one_arm else (None,)


def _get_review(session: TrainedSession, number: int) -> Review | None:
    return session.sets[number - 1].review if number <= len(session.sets) else None


def _make_line(session: TrainedSession, followed: Review | None) -> SessionLine:
    reviews = [item.review for item in session.sets]
    loads = [review.set_info.load_kg for review in reviews]
    reps = [review.complete_reps for review in reviews]
    known = [load for load in loads if load is not None]
    volume = sum(load * count for load, count in zip(known, reps, strict=True)) if len(known) == len(loads) else None
    middle, margin = (None, None) if followed is None else compute_median(followed, RANGE_MEASURES)
    return SessionLine(
        session.day,
        None if session.plan is None else str(session.plan),
        compare_with_plan(session.plan, reviews),
        max(known, default=None),
        sum(reps),
        volume,
        middle,
        margin,
        analyse_set(reviews[-1]).sentence,
        any(mentions_pain(item.note) for item in session.sets),
    )


def _estimate_strength(session: TrainedSession) -> OneRepMax | None:
    candidates = []
    for item in session.sets:
        by_side = count_by_side([rep for rep in item.review.reps if rep.complete])
        load, reps = item.review.set_info.load_kg, min(by_side.values(), default=item.review.complete_reps)
        reserve = item.note.reps_in_reserve if item.note is not None else None
        if load is not None and load > 0 and reps > 0 and reserve is not None:
            candidates.append((reserve, estimate_one_rep_max(load, reps, reps_in_reserve=reserve)))
    return min(candidates, key=lambda item: item[0])[1] if candidates else None


def _summarise(trends: Sequence[Trend], reviews: Sequence[Review], number: int) -> str:
    """What the trends say, and that earlier reviews count in part where they do."""
    text = _summarise_trends(trends, len(reviews), number)
    several = len({review.measures_version for review in reviews}) > 1
    return f"{text} {OTHER_DEFINITIONS}" if several else text


def _summarise_trends(trends: Sequence[Trend], sessions: int, number: int) -> str:
    changed = [item for item in trends if item.call == "changed"]
    if changed:
        return " ".join(item.sentence for item in changed)
    if all(item.call == "too_few_reps" for item in trends if not item.of_sides):
        return f"Too few sessions with a set {number} ({sessions}) to tell a course."
    return f"Over {sessions} sessions nothing in set {number} changed beyond measurement error."
