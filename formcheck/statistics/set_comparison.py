"""Between two sets of one session or of two, and between the early and the late reps of one set."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.special import ndtr, stdtrit

from formcheck.core.errors import UsageError
from formcheck.core.model import Array, Review
from formcheck.core.vocabulary import plain_name
from formcheck.statistics.change_text import amount, listed, moved
from formcheck.statistics.comparability import camera_kept, loads
from formcheck.statistics.continuous_reps import unbroken
from formcheck.statistics.detectable_change import Z95, mean_error, minimal_detectable_change
from formcheck.statistics.onset import holm
from formcheck.statistics.permutation import hedges_g, labels_all, signs_all, two_sample, within_pairs
from formcheck.statistics.rep_series import Series, aspects_of, series_by_measure
from formcheck.statistics.results import Aspect, Call, Comparison, Difference
from formcheck.statistics.set_trends import find_form_changes, is_unseen, told_by

ALPHA = 0.05
"""Chance of any false claim in one comparison."""
FEWEST_PAIRS = 6
"""Below six pairs even differences that all point one way are likelier than 5 % by chance (five: 2/32)."""
FEWEST_EARLY = 4
"""The same for early against late reps: three against three is 2/20, four against four 2/70."""


@dataclass(frozen=True, eq=False)
class _Pair:
    """One measure in both groups."""

    measure: str
    aspect: Aspect | None
    unit: str
    title: str
    reps: tuple[int, ...]
    """Of matched values, the numbers of their reps."""
    first: Array
    second: Array
    margins: tuple[float, float]
    scatters: tuple[float, float]


def compare_sets(
    first: Review, second: Review, *, labels: tuple[str, str] = ("set 1", "set 2"), same_session: bool = False
) -> Comparison:
    """What differs in the second set from the first, rep held against the rep of the same number.

    Exact sign-flip permutation over the pairs of reps, flipped in all measures at once, so that the largest of all
    differences is held against the largest that chance makes (Westfall & Young 1993, from memory). A difference is
    claimed when chance is below 5 % for the whole comparison and the difference is more than minimal detectable. With
    the camera set up anew, the same chance must also be that of the measurement's own error (normal, Holm).

    same_session : both sets were filmed in one session; then, if the camera stands where it stood, what the
    measurement always adds is in both sets and cancels.

    Raises UsageError when the sets are of different exercises.
    """
    if first.exercise.id != second.exercise.id:
        raise UsageError(
            f"Two sets can be compared when they are of one exercise; these are {first.exercise.name} and "
            f"{second.exercise.name}."
        )
    same_camera = same_session and camera_kept(first, second)
    pairs = _matched(series_by_measure(first), series_by_measure(second))
    load_note, told = loads(first, second, labels)
    notes = [load_note] if load_note else []
    if not same_camera:
        moved_words = (
            "The camera was moved between the sets" if same_session else "The sets are from different sessions"
        )
        notes.append(f"{moved_words}, so a difference must be larger before it can be told.")
    if first.view.name != second.view.name:
        notes.append("The sets were filmed from different sides: the same movement can give different numbers.")
    count = max((len(pair.first) for pair in pairs), default=0)
    if count < FEWEST_PAIRS:
        notes.append(f"Too few reps in common ({count}) to tell a difference; at least {FEWEST_PAIRS} are needed.")
    differences = []
    if pairs:
        d = _by_rep(pairs)
        tested = within_pairs(d, signs_all(len(d)))
        blurred = holm([_chance_of_blur(pair, same_camera) for pair in pairs])
        for pair, (p, p_reps), p_blur in zip(pairs, tested, blurred, strict=True):
            differences.append(_paired(pair, p, max(p_reps, p_blur), labels, same_camera))
    return Comparison(
        differences=tuple(differences),
        same_camera=same_camera,
        fatigue_can_be_told=told,
        notes=tuple(notes),
        sentence=_summary(differences, notes, count >= FEWEST_PAIRS, labels),
    )


def compare_early_with_late(review: Review) -> Comparison:
    """The late half of a set's reps against the early half (a middle rep is left out), by exact permutation.

    Of a clip with cuts the longest run of reps between two of them is taken. Of an aspect of form whose change within
    the set is told already (`find_form_changes`), a number that does not show it is left out.
    """
    review = unbroken(review)
    onsets = find_form_changes(review)
    series = [item for item in series_by_measure(review) if len(item.reps) >= 2 * FEWEST_EARLY]
    notes = []
    count = len(review.reps)
    if count < 2 * FEWEST_EARLY:
        notes.append(f"Too few reps ({count}) to hold late against early ones; at least {2 * FEWEST_EARLY} are needed.")
    half = count // 2
    early = {rep.number for rep in review.reps[:half]}
    late = {rep.number for rep in review.reps[count - half :]}
    aspects = _aspects(series)
    pairs, columns = [], []
    for item in series:
        chosen = np.array([rep in early or rep in late for rep in item.reps])
        is_late = np.array([rep in late for rep in item.reps])
        a, b = item.values[chosen & ~is_late], item.values[chosen & is_late]
        if min(len(a), len(b)) < FEWEST_EARLY:
            continue
        pairs.append(_pair(item, item, aspects, (), a, b))
        by_rep = dict(zip(item.reps, item.values.tolist(), strict=True))
        columns.append([by_rep.get(rep, np.nan) for rep in sorted(early | late)])
    differences = []
    if pairs:
        tested = two_sample(np.array(columns).T, labels_all(2 * half, half))
        for pair, (p, p_family) in zip(pairs, tested, strict=True):
            differences.append(_unpaired(pair, p, p_family))
    told = told_by(onsets)
    differences = [item for item in differences if not (item.measure in told and is_unseen(item.call))]
    words = ("the early reps", "the late reps")
    sentence = _summary(differences, notes, count >= 2 * FEWEST_EARLY, words)
    if onsets and count >= 2 * FEWEST_EARLY and all(item.call != "changed" for item in differences):
        sentence = f"{onsets[0].sentence} Nothing else that differs from the early to the late reps can be told."
    return Comparison(
        differences=tuple(_in_order(differences)),
        same_camera=True,
        fatigue_can_be_told=True,
        notes=tuple(notes),
        sentence=sentence,
    )


# ---------------------------------------------------------------- parts


def _matched(first: Sequence[Series], second: Sequence[Series]) -> list[_Pair]:
    others, aspects = {item.measure: item for item in second}, _aspects(first)
    pairs = []
    for item in first:
        other = others.get(item.measure)
        shared = sorted(set(item.reps) & set(other.reps)) if other is not None else []
        if other is None or len(shared) < 2:
            continue
        mine, theirs = (dict(zip(one.reps, one.values.tolist(), strict=True)) for one in (item, other))
        a, b = (np.array([values[rep] for rep in shared]) for values in (mine, theirs))
        pairs.append(_pair(item, other, aspects, tuple(shared), a, b))
    order = list(aspects)
    return sorted(pairs, key=lambda pair: order.index(pair.measure) if pair.aspect else len(order))


def _aspects(series: Sequence[Series]) -> Mapping[str, Aspect]:
    return {item.measure: aspect for aspect, _, item in aspects_of(tuple(series))}


def _pair(
    a: Series, b: Series, aspects: Mapping[str, Aspect], reps: tuple[int, ...], first: Array, second: Array
) -> _Pair:
    return _Pair(
        measure=a.measure,
        aspect=aspects.get(a.measure),
        unit=a.unit,
        title=a.title,
        reps=reps,
        first=first,
        second=second,
        margins=(a.margin, b.margin),
        scatters=(a.scatter, b.scatter),
    )


def _paired(pair: _Pair, p: float, p_family: float, labels: tuple[str, str], same_camera: bool) -> Difference:
    d = pair.second - pair.first
    n = len(d)
    error = float(d.std(ddof=1)) / sqrt(n)
    effect = hedges_g(float(d.mean()), float(d.std(ddof=1)), n - 1, 1 / sqrt(n))
    return _difference(pair, p, p_family, labels, same_camera, error, n - 1, effect, enough=n >= FEWEST_PAIRS)


def _unpaired(pair: _Pair, p: float, p_family: float) -> Difference:
    a, b = pair.first, pair.second
    freedom = len(a) + len(b) - 2
    pooled = sqrt(((len(a) - 1) * a.var(ddof=1) + (len(b) - 1) * b.var(ddof=1)) / freedom)
    scale = sqrt(1 / len(a) + 1 / len(b))
    effect = hedges_g(float(b.mean() - a.mean()), pooled, freedom, scale)
    words = ("the early reps", "the late reps")
    return _difference(pair, p, p_family, words, True, pooled * scale, freedom, effect, enough=True)


def _difference(
    pair: _Pair,
    p: float,
    p_family: float,
    labels: tuple[str, str],
    same_camera: bool,
    error: float,
    freedom: int,
    effect: tuple[float, float, float] | None,
    *,
    enough: bool,
) -> Difference:
    """Margin and verdict: scatter between reps, at least what measuring scatters, and what the camera may add."""
    before, after = float(pair.first.mean()), float(pair.second.mean())
    change, count = after - before, min(len(pair.first), len(pair.second))
    detectable = minimal_detectable_change(_error_of_mean(pair, same_camera))
    kept = [max(m**2 - (Z95 * s) ** 2, 0.0) for m, s in zip(pair.margins, pair.scatters, strict=True)]
    common = 0.0 if same_camera else sqrt(sum(kept))
    scattered = float(np.linalg.norm(pair.scatters)) / sqrt(count)
    margin = float(np.hypot(stdtrit(freedom, 0.975) * max(error, scattered), common))
    call: Call = "no_detectable_change"
    between = f"from {labels[0]} to {labels[1]}"
    by = amount(abs(change), pair.unit, margin, measure=pair.measure)
    blur = amount(detectable, pair.unit, measure=pair.measure)
    if not enough:
        call, said = "too_few_reps", f"too few reps in common ({count}) to tell a difference"
    elif p_family > ALPHA:
        said = f"no detectable change {between}"
    elif abs(change) <= max(detectable, margin):
        said = f"{moved(change)} by {by} {between}: no detectable change; the measurement alone can blur {blur}"
    else:
        call = "changed"
        said = f"{moved(change)} by {by} {between}; beyond the {blur} that the measurement can blur"
    joint = " " if enough and p_family <= ALPHA else ": "
    return Difference(
        measure=pair.measure,
        aspect=pair.aspect,
        unit=pair.unit,
        reps=count,
        before=before,
        after=after,
        change=change,
        margin=margin,
        effect=None if effect is None else effect[0],
        effect_low=None if effect is None else effect[1],
        effect_high=None if effect is None else effect[2],
        detectable=detectable,
        p=p,
        p_family=p_family,
        call=call,
        sentence=f"{pair.title}{joint}{said}.",
    )


def _error_of_mean(pair: _Pair, same_camera: bool) -> float:
    """Standard error of measurement of one group's mean, both groups taken together."""
    count = min(len(pair.first), len(pair.second))
    errors = [
        mean_error(scatter, margin, count, same_camera=same_camera)
        for scatter, margin in zip(pair.scatters, pair.margins, strict=True)
    ]
    return float(np.sqrt(np.mean(np.square(errors))))


def _chance_of_blur(pair: _Pair, same_camera: bool) -> float:
    """Two-sided probability that measuring and the scatter of the reps make such a difference of matched reps."""
    d = pair.second - pair.first
    own = float(d.var(ddof=1)) / len(d)
    error = float(np.sqrt(2 * _error_of_mean(pair, same_camera) ** 2 + (0.0 if same_camera else own)))
    return float(2 * ndtr(-abs(d.mean()) / error))


def _by_rep(pairs: Sequence[_Pair]) -> Array:
    """(n, m) differences, a row for each rep number in common, NaN where a measure lacks it."""
    reps = sorted({rep for pair in pairs for rep in pair.reps})
    out = np.full((len(reps), len(pairs)), np.nan)
    for column, pair in enumerate(pairs):
        out[[reps.index(rep) for rep in pair.reps], column] = pair.second - pair.first
    return out


def _in_order(differences: Sequence[Difference]) -> list[Difference]:
    return sorted(differences, key=lambda item: item.aspect is None)


def _summary(differences: Sequence[Difference], notes: Sequence[str], enough: bool, labels: tuple[str, str]) -> str:
    if not enough:
        return notes[-1]
    changed = [item for item in differences if item.call == "changed"]
    if not changed:
        return f"No detectable change from {labels[0]} to {labels[1]} in any of {len(differences)} measures."
    first = next((item for item in changed if item.aspect), changed[0])
    others = [plain_name(item.measure) for item in changed if item is not first]
    return first.sentence + (f" Also changed: {listed(others)}." if others else "")
