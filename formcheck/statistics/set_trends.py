"""Trends of each measure over the reps of a set and over sets; from which rep of a set form changed; loss of speed."""

from collections.abc import Sequence

import numpy as np

from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.core.vocabulary.numbers import round_up
from formcheck.core.vocabulary.sentences import join_words
from formcheck.statistics.change_text import format_direction, format_rep_span
from formcheck.statistics.detectable_change import Z95, compute_detectable_change, compute_mean_error
from formcheck.statistics.onset import OnsetFit, find_credible, fit_onset, holm
from formcheck.statistics.rank_trend import FEWEST, Slope, mann_kendall, theil_sen
from formcheck.statistics.rep_series import (
    Series,
    Worse,
    find_aspects,
    is_worse,
    list_measures,
    list_series,
    list_series_by_side,
    take_comparable,
    take_longest_run,
)
from formcheck.statistics.results import Aspect, Breakdown, Call, Onset, SetCourse, SpeedLoss, Trend
from formcheck.statistics.side_trend import DIFFERENCES, find_side_trend
from formcheck.statistics.told_changes import agree_with_findings, begin_together, list_told_changes

ALPHA = 0.05
"""Chance of any false claim about one set, for its trends and for its changes of form each (common practice)."""
RANGE_SCATTER = 0.03
"""Share of its range by which a lifter's repetitions of a set usually differ (standard deviation; common practice)."""
SPEED_CAVEAT = (
    "Thresholds for the loss of speed come from barbell lifts done as fast as possible; for a raise, or a lift at a "
    "chosen pace, nothing published supports them."
)
"""Sanchez-Medina and Gonzalez-Badillo 2011 and Pareja-Blanco 2017: bench press and squat, maximal intent."""

_WORDS: dict[Aspect, str] = {
    "range": "range",
    "speed": "lifting speed",
    "lowering": "lowering",
    "torso": "torso",
    "asymmetry": "evenness of the sides",
    "smoothness": "smoothness",
    "posture": "posture",
}


def analyse_set(review: Review) -> SetCourse:
    """What happened to form within a set, from its measures alone.

    Of a clip with cuts the longest run of reps between two of them is taken.
    """
    review = take_longest_run(review)
    onsets = find_form_changes(review)
    breakdown = find_breakdown(onsets)
    shown = list_shown_measures(onsets)
    notes: list[str] = []
    judged = [item for _, _, item in find_aspects(list_series(review)) if len(item.reps) >= FEWEST]
    if 0 < len(review.reps) < FEWEST:
        notes.append(f"Too few reps to tell a trend: {len(review.reps)}; at least {FEWEST} are needed.")
    elif review.reps and not judged:
        notes.append("Too little of this set could be measured to tell a trend.")
    return SetCourse(
        reps=len(review.reps),
        trends=tuple(item for item in find_trends(review) if not (item.measure in shown and is_unseen(item.call))),
        onsets=onsets,
        breakdown=breakdown,
        speed_loss=compute_speed_loss(review),
        notes=tuple(notes),
        sentence=_summarise(review, onsets, breakdown, notes),
    )


def list_shown_measures(onsets: Sequence[Onset]) -> frozenset[str]:
    """Measures of the aspects that changed: where one of them shows it, that another does not is no finding."""
    return frozenset().union(*(list_measures(item.aspect) | {item.measure} for item in onsets))


def is_unseen(call: Call) -> bool:
    """Whether a measure shows no change."""
    return call == "no_detectable_change"


# ---------------------------------------------------------------- trends


def find_trends(review: Review) -> tuple[Trend, ...]:
    """The trend of every measure and side over the reps, made good for looking at all of them (Holm)."""
    return find_trends_of(list_series_by_side(review))


def find_trends_of(series: Sequence[Series], *, steps: str = "reps") -> tuple[Trend, ...]:
    """The trend of each series; ``steps`` names what is counted. One family for the correction."""
    tests = [mann_kendall(item.values) for item in series]
    tested = [index for index, item in enumerate(series) if len(item.reps) >= FEWEST]
    adjusted = dict(zip(tested, holm([tests[index][1] for index in tested]), strict=True))
    return tuple(
        _make_trend(item, tests[index][0], tests[index][1], adjusted.get(index), steps)
        for index, item in enumerate(series)
    )


def _make_trend(item: Series, s: int, p: float, p_family: float | None, steps: str) -> Trend:
    count = len(item.reps)
    slope = theil_sen(item.values, item.reps)
    change = slope.value * (item.reps[-1] - item.reps[0])
    detectable = compute_detectable_change(item.scatter)
    if p_family is None:
        call, words = "too_few_reps", f"too few values ({count}) to tell a trend; at least {FEWEST} are needed"
    elif p_family <= ALPHA and abs(change) > detectable:
        call = "changed"
        by = f"{item.format(abs(change))} over {count} {steps}"
        words = f"{format_direction(change)} by {by} ({_format_reach(slope, item)})"
    else:
        call = "no_detectable_change"
        why = (
            "no more than chance"
            if p_family > ALPHA
            else f"less than the measurement error of {item.format(detectable)}"
        )
        words = f"no certain change over {count} {steps}: {why}"
    known = count > 1
    return Trend(
        measure=item.measure,
        side=item.side,
        unit=item.unit,
        count=count,
        slope=slope.value if known else None,
        slope_low=slope.low if np.isfinite(slope.low) else None,
        slope_high=slope.high if np.isfinite(slope.high) else None,
        change=change if known else None,
        detectable=detectable,
        s=s,
        p=None if p_family is None else p,
        p_family=p_family,
        call=call,  # type: ignore[arg-type]  # one of the three words above
        sentence=f"{item.title}: {words}.",
    )


def _format_reach(slope: Slope, item: Series) -> str:
    low, high = sorted(abs(end) * (item.reps[-1] - item.reps[0]) for end in (slope.low, slope.high))
    return f"in 95 of 100 cases {item.format(low)} to {item.format(high)}"


def find_session_trends(reviews: Sequence[Review], other_arms: Sequence[Review | None] = ()) -> tuple[Trend, ...]:
    """The trend of each measure's mean over sets in order of time, such as one set a session.

    Between sessions the camera is set up anew, so the whole margin blurs. Left against right has a test of its own
    (`find_side_trend`). Of sets reviewed by earlier definitions than the newest only times count (`take_comparable`).
    Raises UsageError when the sets are of different exercises.

    other_arms : as for `find_side_trend`.
    """
    if len({review.exercise.id for review in reviews}) > 1:
        raise UsageError("A course over sessions can be told when all sets are of one exercise.")
    found: dict[str, list[tuple[int, Series]]] = {}
    others = [review for review in other_arms if review is not None]
    every = iter(take_comparable([*reviews, *others]))
    comparable = [next(every) for _ in reviews]
    for number, review in enumerate(comparable, start=1):
        for item in list_series(review):
            found.setdefault(item.measure, []).append((number, item))
    trends = find_trends_of([_average_reps(rows) for rows in found.values()], steps="sets")
    sides = find_side_trend(comparable, [None if one is None else next(every) for one in other_arms])
    if sides is None:
        return trends
    return (*(item for item in trends if item.measure not in DIFFERENCES), sides)


def _average_reps(rows: Sequence[tuple[int, Series]]) -> Series:
    """A series over sets whose values are means over reps; each scatters by its whole error of measurement."""
    item = rows[0][1]
    errors = [compute_mean_error(one.scatter, one.margin, len(one.reps), same_camera=False) for _, one in rows]
    return Series(
        measure=item.measure,
        side=None,
        unit=item.unit,
        reps=tuple(number for number, _ in rows),
        values=np.array([one.values.mean() for _, one in rows]),
        margin=float(np.mean([one.margin for _, one in rows])),
        scatter=float(np.sqrt(np.mean(np.square(errors)))),
    )


# ---------------------------------------------------------------- the rep from which form changed


def find_form_changes(review: Review) -> tuple[Onset, ...]:
    """Confirmed changes of form, earliest first: beyond chance for all aspects together, and detectable.

    One measure speaks for each aspect, so that a set without any change names one in at most 5 % of cases. What the
    findings say from a repetition on is among them, so that nothing told of a set says otherwise.
    """
    series = list_series(review)
    found: list[tuple[Aspect, Worse, Series, OnsetFit]] = []
    for aspect, worse, item in find_aspects(series):
        usual = float(np.hypot(item.scatter, RANGE_SCATTER * item.values.mean())) if aspect == "range" else 0.0
        fit = fit_onset(item.values, item.scatter, usual)
        if fit is not None:
            found.append((aspect, worse, item, fit))
    adjusted = holm([fit.p for *_, fit in found])
    onsets = [_make_onset(*parts, p) for parts, p in zip(found, adjusted, strict=True)]
    confirmed = [item for item in onsets if item.call == "changed"]
    agreed = agree_with_findings(confirmed, list_told_changes(review), series)
    breakdown = find_breakdown(agreed)
    return agreed if breakdown is None else begin_together(agreed, breakdown.first, breakdown.rep)


def _make_onset(aspect: Aspect, worse: Worse, item: Series, fit: OnsetFit, p_family: float) -> Onset:
    detectable = compute_detectable_change(item.scatter)
    after = fit.before + fit.change
    rep, likely = item.reps[fit.first], tuple(item.reps[index] for index in fit.likely)
    confirmed = p_family <= ALPHA and abs(fit.change) > max(detectable, fit.margin)
    by = item.format(abs(fit.change), fit.margin)
    levels = f"from {item.format(fit.before)} before rep {rep} to {item.format(after)} in the last"
    words = f" {format_direction(fit.change)} by {by}, {levels}" if confirmed else ": no certain change"
    return Onset(
        aspect=aspect,
        measure=item.measure,
        unit=item.unit,
        rep=rep,
        likely=likely,
        chances=tuple(zip(item.reps, fit.probability, strict=True)),
        grows=fit.growth > 0,
        before=fit.before,
        after=after,
        change=fit.change,
        margin=fit.margin,
        detectable=detectable,
        p_family=p_family,
        worse=is_worse(worse, fit.before, after),
        call="changed" if confirmed else "no_detectable_change",
        sentence=f"{item.title}{words}.",
    )


def find_breakdown(onsets: Sequence[Onset]) -> Breakdown | None:
    """The rep from which form changed for the worse; None without such a change.

    Changes whose likely reps overlap with the earliest one's are taken to have begun together, and their
    probabilities are multiplied: what blurs one aspect seldom blurs all.
    """
    changes = [item for item in onsets if item.worse and item.call == "changed"]
    if not changes:
        return None
    earliest = min(changes, key=lambda item: item.rep)
    first = [item for item in changes if set(item.likely) & set(earliest.likely)]
    first.sort(key=lambda item: (item.p_family, len(item.likely)))
    reps = sorted({rep for item in first for rep, _ in item.chances})
    joint = np.prod([[dict(item.chances).get(rep, 0.0) for rep in reps] for item in first], axis=0)
    if not joint.sum() > 0:
        joint = np.array([dict(earliest.chances).get(rep, 0.0) for rep in reps])
    rep, likely = reps[int(joint.argmax())], tuple(reps[index] for index in find_credible(joint))
    told = [item.rep for item in first if item.chances[0][1] == 1.0]  # by a finding
    if told:
        rep, likely = min(told), tuple(sorted({*likely, min(told)}))
    later = sorted((item for item in changes if item not in first), key=lambda item: item.rep)
    sure = "" if likely == (rep,) else f" ({format_rep_span(likely)} likely)"
    names = join_words([_WORDS[item.aspect] for item in first])
    then = "".join(f" From about rep {item.rep}: {_WORDS[item.aspect]}." for item in later)
    sentence = f"Form broke down from rep {rep}{sure}, first in {names}. {first[0].sentence}{then}"
    return Breakdown(rep=rep, likely=likely, first=tuple(first), later=tuple(later), sentence=sentence)


def _summarise(review: Review, onsets: Sequence[Onset], breakdown: Breakdown | None, notes: Sequence[str]) -> str:
    if not review.reps:
        return "No reps were found, so nothing can be said of their course."
    if notes:
        return notes[0]
    if breakdown is not None:
        return breakdown.sentence
    better = " What changed was not for the worse." if onsets else ""
    return f"Form did not break down as far as can be told from these {len(review.reps)} reps.{better}"


# ---------------------------------------------------------------- loss of speed


def compute_speed_loss(review: Review, *, threshold_percent: float | None = None) -> SpeedLoss | None:
    """Lifting speed of each rep against the set's own fastest; None when no speed was measured in two reps or more.

    The loss of a rep is 100·(fastest − rep)/fastest (Sanchez-Medina and Gonzalez-Badillo 2011, from memory). What the
    camera adds to all speeds alike cancels in it; the margin is what is left of both reps.
    """
    speeds = {item.measure: item for item in list_series(review)}
    item = next((speeds[name] for name in ("mean_concentric_speed", "peak_speed") if name in speeds), None)
    if item is None or len(item.reps) < 2 or item.values.max() <= 0:
        return None
    fastest = float(item.values.max())
    loss = 100 * (fastest - item.values) / fastest
    margin = 100 * Z95 * np.sqrt(2) * item.scatter / fastest
    last = float(loss[-1])
    reached = None
    if threshold_percent is not None:
        reached = next(
            (rep for rep, one in zip(item.reps, loss, strict=True) if one - margin > threshold_percent), None
        )
    slower = last > margin
    spare = f"{round_up(margin, 0):.0f} %"
    words = f"The last rep was {last:.0f} % ± {spare} slower than the fastest (rep {item.reps[loss.argmin()]})"
    if not slower:
        words = f"No loss of speed can be told: the last rep is within {spare} of the fastest"
    if threshold_percent is not None:
        limit = f"the coach's {threshold_percent:.0f} %"
        words += f"; {limit} were passed in rep {reached}" if reached else f"; {limit} were not clearly passed"
    return SpeedLoss(
        measure=item.measure,
        fastest_rep=item.reps[int(loss.argmin())],
        reps=item.reps,
        loss_percent=tuple(float(one) + 0.0 for one in loss),
        margin_percent=float(margin),
        last_percent=last,
        threshold_percent=threshold_percent,
        reached_rep=reached,
        call="changed" if slower else "no_detectable_change",
        sentence=f"{words}.",
        caveat=SPEED_CAVEAT,
    )
