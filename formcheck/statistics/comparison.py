"""Comparisons of two sets, of the early and the late reps of a set, and of two reps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from formcheck.core.errors import UsageError
from formcheck.core.model import Array, Review
from formcheck.core.vocabulary import get_plain_name, get_title
from formcheck.core.vocabulary.sentences import join_words
from formcheck.signals.geometry import wrap_degrees
from formcheck.statistics.change_text import format_direction
from formcheck.statistics.detectable_change import Z95, compute_detectable_change, compute_mean_error
from formcheck.statistics.onset import holm
from formcheck.statistics.permutation import hedges_g, list_labels, list_signs, permute_groups, permute_pairs
from formcheck.statistics.rep_series import (
    ASPECTS,
    OTHER_DEFINITIONS,
    Series,
    find_aspects,
    find_part,
    is_worse,
    list_series,
    take_comparable,
    take_longest_run,
)
from formcheck.statistics.results import Aspect, Call, Comparison, Difference
from formcheck.statistics.set_trends import find_breakdown, find_form_changes, is_unseen, list_shown_measures

ALPHA = 0.05
"""Chance of any false claim in one comparison."""
FEWEST_PAIRS = 6
"""Below six pairs even differences that all point one way are likelier than 5 % by chance (five: 2/32)."""
FEWEST_EARLY = 4
"""The same for early against late reps: three against three is 2/20, four against four 2/70."""
END_REPS = 3
"""So many reps at either end of a set are looked at side by side: few enough to watch, enough to be no slip. Ours."""
EARLY_LATE = ("the early reps", "the late reps")
"""What the two groups of reps of one set are called."""
SAME_YAW_DEG = 4.0
SAME_HEIGHT = 0.04
"""The body's height in the picture may differ by this share before the camera counts as moved."""


@dataclass(frozen=True, eq=False)
class _Pair:
    """One measure in both groups; one series may hold both."""

    before: Series
    after: Series
    aspect: Aspect | None
    reps: tuple[int, ...]
    """Of matched values, the numbers of their reps."""
    first: Array
    second: Array


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
    _check_one_exercise(first, second, "sets")
    same_camera = same_session and is_same_camera(first, second)
    notes = [OTHER_DEFINITIONS] if first.measures_version != second.measures_version else []
    first, second = take_comparable((first, second))
    pairs = _match_reps(list_series(first), list_series(second))
    load_note, same_load = compare_loads(first, second, labels)
    notes += [load_note] if load_note else []
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
        d = _arrange_by_rep(pairs)
        tested = permute_pairs(d, list_signs(len(d)))
        blurred = holm([_compute_blur_chance(pair, same_camera) for pair in pairs])
        for pair, (p, p_reps), p_blur in zip(pairs, tested, blurred, strict=True):
            differences.append(_compare_pairs(pair, p, max(p_reps, p_blur), labels, same_camera))
    return Comparison(
        differences=tuple(differences),
        same_camera=same_camera,
        fatigue_can_be_told=same_load,
        notes=tuple(notes),
        sentence=_summarise(differences, notes, count >= FEWEST_PAIRS, labels),
    )


def compare_early_with_late(review: Review) -> Comparison:
    """The late half of a set's reps against the early half (a middle rep is left out), by exact permutation.

    Of a clip with cuts the longest run of reps between two of them is taken. Of an aspect of form whose change within
    the set is found already (`find_form_changes`), a number that does not show it is left out.
    """
    review = take_longest_run(review)
    onsets = find_form_changes(review)
    series = [item for item in list_series(review) if len(item.reps) >= 2 * FEWEST_EARLY]
    notes = []
    count = len(review.reps)
    if count < 2 * FEWEST_EARLY:
        notes.append(f"Too few reps ({count}) to compare late with early ones; at least {2 * FEWEST_EARLY} are needed.")
    half = count // 2
    early = {rep.number for rep in review.reps[:half]}
    late = {rep.number for rep in review.reps[count - half :]}
    aspects = _map_aspects(series)
    pairs, columns = [], []
    for item in series:
        chosen = np.array([rep in early or rep in late for rep in item.reps])
        is_late = np.array([rep in late for rep in item.reps])
        a, b = item.values[chosen & ~is_late], item.values[chosen & is_late]
        if min(len(a), len(b)) < FEWEST_EARLY:
            continue
        pairs.append(_Pair(item, item, aspects.get(item.measure), (), a, b))
        columns.append([item.by_rep.get(rep, np.nan) for rep in sorted(early | late)])
    differences = []
    if pairs:
        tested = permute_groups(np.array(columns).T, list_labels(2 * half, half))
        for pair, (p, p_family) in zip(pairs, tested, strict=True):
            differences.append(_compare_groups(pair, p, p_family))
    shown = list_shown_measures(onsets)
    worse = {item.aspect for item in onsets if item.worse}
    differences = [
        _leave_to_course(item) if item.aspect is not None and item.aspect not in worse else item
        for item in differences
        if not (item.measure in shown and is_unseen(item.call))
    ]
    sentence = _summarise(differences, notes, count >= 2 * FEWEST_EARLY, EARLY_LATE)
    breakdown = find_breakdown(onsets)
    if breakdown is not None:
        sentence = breakdown.sentence
    elif onsets and count >= 2 * FEWEST_EARLY and all(item.call != "changed" for item in differences):
        sentence = f"{onsets[0].sentence} No other difference between early and late reps can be told."
    return Comparison(
        differences=tuple(sorted(differences, key=lambda item: item.aspect is None)),
        same_camera=True,
        fatigue_can_be_told=True,
        notes=tuple(notes),
        sentence=sentence,
    )


def _leave_to_course(item: Difference) -> Difference:
    """A difference for the worse in an aspect that the course of the set does not tell: not claimed here either."""
    known = {name: worse for _, candidates in ASPECTS for name, worse in candidates}
    if item.call != "changed" or not is_worse(known[item.measure], item.before, item.after):
        return item
    words = f"{get_title(item.measure)}: no certain change from {EARLY_LATE[0]} to {EARLY_LATE[1]}."
    return replace(item, call="no_detectable_change", sentence=words)


# ---------------------------------------------------------------- two reps


def compare_reps(
    first: Review,
    first_rep: int,
    second: Review,
    second_rep: int,
    *,
    labels: tuple[str, str],
    same_set: bool = False,
) -> Comparison:
    """What differs in one rep from another.

    One rep against one tells nothing of chance in the lifter; what is claimed is that the two reps differed, beyond
    the error of measurement (normal, Holm for all numbers together). With `same_set` what the measurement always adds
    is in both and cancels, unless a cut lies between them.

    Raises UsageError when the sets are of different exercises or there is no such rep.
    """

    _check_one_exercise(first, second, "reps")
    for review, number in ((first, first_rep), (second, second_rep)):
        if number not in {rep.number for rep in review.reps}:
            raise UsageError(f"There is no rep {number} in that set.")
    first, second = take_comparable((first, second))
    one_run = same_set and find_part(first, first_rep) == find_part(second, second_rep)
    differences = _compare_few(first, (first_rep,), second, (second_rep,), labels, one_run)
    load_note, same_load = compare_loads(first, second, labels)
    notes = [] if same_set else [note for note in (load_note,) if note]
    if not same_set:
        notes.append("The reps are from different sets, so a difference must be larger before it can be told.")
    elif not one_run:
        notes.append("The clip is cut between the reps, so a difference must be larger before it can be told.")
    return Comparison(
        differences=tuple(differences),
        same_camera=same_set or is_same_camera(first, second),
        fatigue_can_be_told=same_set or same_load,
        notes=tuple(notes),
        sentence=_summarise_few(differences, "The two reps differ"),
    )


def choose_end_reps(review: Review) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Numbers of the first and of the last three whole reps, fewer where a set has less than six; empty below two.

    Of a clip with cuts, those of its longest run of reps.
    """
    numbers = [rep.number for rep in take_longest_run(review).reps if rep.complete]
    size = min(END_REPS, len(numbers) // 2)
    return tuple(numbers[:size]), tuple(numbers[len(numbers) - size :])


def compare_first_with_last(review: Review, *, labels: tuple[str, str] = EARLY_LATE) -> Comparison:
    """What differs in a set's last three reps (`choose_end_reps`) from its first three, mean against mean.

    As of two reps, what is claimed is that these differed, beyond the error of measurement; whether the set went that
    way or the lifter merely differs so from rep to rep, `compare_early_with_late` tells of longer sets.
    """
    first, last = choose_end_reps(review)
    if not first:
        few = "Too few whole reps to compare the last with the first."
        return Comparison((), True, True, (few,), few)
    run = take_longest_run(review)
    differences = _compare_few(run, first, run, last, labels, True)
    return Comparison(
        differences=tuple(differences),
        same_camera=True,
        fatigue_can_be_told=True,
        notes=("What is told is that these reps differ, not why.",),
        sentence=_summarise_few(differences, "The early and the late reps differ"),
    )


def _compare_few(
    first: Review,
    first_reps: Sequence[int],
    second: Review,
    second_reps: Sequence[int],
    labels: tuple[str, str],
    one_run: bool,
) -> list[Difference]:
    """Means of some reps held against those of others, by the error of measurement alone; measures read in all."""
    from scipy.special import ndtr

    mine, theirs = (
        {item.measure: item for item in list_series(review) if set(numbers) <= set(item.reps)}
        for review, numbers in ((first, first_reps), (second, second_reps))
    )
    aspects = _map_aspects(tuple(mine.values()))
    shared = sorted(mine.keys() & theirs.keys(), key=lambda name: (name not in aspects, list(mine).index(name)))
    rows = [(mine[name], theirs[name]) for name in shared]
    values = [(_compute_mean(a, first_reps), _compute_mean(b, second_reps)) for a, b in rows]
    count = min(len(first_reps), len(second_reps))
    errors = [_compute_error(a, b, one_run, count) for a, b in rows]
    chances = [float(2 * ndtr(-abs(b - a) / error)) for (a, b), error in zip(values, errors, strict=True)]
    differences = []
    for (a, _), (before, after), error, p, p_family in zip(rows, values, errors, chances, holm(chances), strict=True):
        change, margin = after - before, Z95 * error
        call: Call = "changed" if p_family <= ALPHA else "no_detectable_change"
        by = a.format(abs(change), margin)
        words = f" {format_direction(change)} by {by} from {labels[0]} to {labels[1]}"
        sentence = f"{a.title}{words}." if call == "changed" else f"{a.title}: no difference that can be told."
        differences.append(
            Difference(
                measure=a.measure,
                aspect=aspects.get(a.measure),
                unit=a.unit,
                reps=count,
                before=before,
                after=after,
                change=change,
                margin=margin,
                effect=None,
                effect_low=None,
                effect_high=None,
                detectable=compute_detectable_change(error / 2**0.5),
                p=p,
                p_family=p_family,
                call=call,
                sentence=sentence,
            )
        )
    return differences


def _summarise_few(differences: Sequence[Difference], subject: str) -> str:
    changed = [item for item in differences if item.call == "changed"]
    nothing = f"{subject} in nothing that can be told, of {len(differences)} numbers."
    return " ".join(item.sentence for item in changed[:2]) or nothing


def _compute_mean(series: Series, reps: Sequence[int]) -> float:
    return float(np.mean([series.by_rep[rep] for rep in reps]))


def _compute_error(a: Series, b: Series, one_run: bool, count: int) -> float:
    """Standard deviation of the difference of two means of so many values, from the measuring alone."""
    parts = [compute_mean_error(item.scatter, item.margin, count, same_camera=one_run) for item in (a, b)]
    return float(max((parts[0] ** 2 + parts[1] ** 2) ** 0.5, 1e-9))


# ---------------------------------------------------------------- whether two sets can be compared


def _check_one_exercise(first: Review, second: Review, things: str) -> None:
    if first.exercise.id != second.exercise.id:
        raise UsageError(
            f"Two {things} can be compared when they are of one exercise; these are {first.exercise.name} and "
            f"{second.exercise.name}."
        )


def is_same_camera(first: Review, second: Review) -> bool:
    """Whether both clips look as if filmed by one camera that stayed where it stood."""
    a, b = first.view, second.view
    if a.name != b.name or (first.clip.width, first.clip.height) != (second.clip.width, second.clip.height):
        return False
    if a.yaw_deg is None or b.yaw_deg is None or abs(wrap_degrees(a.yaw_deg - b.yaw_deg)) > SAME_YAW_DEG:
        return False
    before, after = first.quality.subject_height_px, second.quality.subject_height_px
    if before is None or after is None or min(before, after) <= 0:
        return False
    return max(before, after) <= (1 + SAME_HEIGHT) * min(before, after)


def compare_loads(first: Review, second: Review, labels: tuple[str, str]) -> tuple[str | None, bool]:
    """What there is to say about the loads, if anything, and whether a change may be put down to fatigue."""
    a, b = first.set_info.load_kg, second.set_info.load_kg
    if a is None or b is None:
        return "The load of both sets is not known, so a change is not put down to fatigue.", False
    if a != b:
        words = f"The load differs ({labels[0]}: {a:g} kg, {labels[1]}: {b:g} kg)"
        return f"{words}: a change may come from the load, so it is not put down to fatigue.", False
    return None, True


# ---------------------------------------------------------------- parts of a comparison of sets


def _match_reps(first: Sequence[Series], second: Sequence[Series]) -> list[_Pair]:
    others, aspects = {item.measure: item for item in second}, _map_aspects(first)
    pairs = []
    for item in first:
        other = others.get(item.measure)
        shared = sorted(set(item.reps) & set(other.reps)) if other is not None else []
        if other is None or len(shared) < 2:
            continue
        a, b = (np.array([one.by_rep[rep] for rep in shared]) for one in (item, other))
        pairs.append(_Pair(item, other, aspects.get(item.measure), tuple(shared), a, b))
    order = list(aspects)
    return sorted(pairs, key=lambda pair: order.index(pair.before.measure) if pair.aspect else len(order))


def _map_aspects(series: Sequence[Series]) -> Mapping[str, Aspect]:
    return {item.measure: aspect for aspect, _, item in find_aspects(tuple(series))}


def _compare_pairs(pair: _Pair, p: float, p_family: float, labels: tuple[str, str], same_camera: bool) -> Difference:
    d = pair.second - pair.first
    n = len(d)
    error = float(d.std(ddof=1)) / sqrt(n)
    effect = hedges_g(float(d.mean()), float(d.std(ddof=1)), n - 1, 1 / sqrt(n))
    return _make_difference(pair, p, p_family, labels, same_camera, error, n - 1, effect, enough=n >= FEWEST_PAIRS)


def _compare_groups(pair: _Pair, p: float, p_family: float) -> Difference:
    a, b = pair.first, pair.second
    freedom = len(a) + len(b) - 2
    pooled = sqrt(((len(a) - 1) * a.var(ddof=1) + (len(b) - 1) * b.var(ddof=1)) / freedom)
    scale = sqrt(1 / len(a) + 1 / len(b))
    effect = hedges_g(float(b.mean() - a.mean()), pooled, freedom, scale)
    return _make_difference(pair, p, p_family, EARLY_LATE, True, pooled * scale, freedom, effect, enough=True)


def _make_difference(
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
    from scipy.special import stdtrit

    before, after = float(pair.first.mean()), float(pair.second.mean())
    change, count = after - before, min(len(pair.first), len(pair.second))
    detectable = compute_detectable_change(_compute_group_error(pair, same_camera))
    shared = [max(item.margin**2 - (Z95 * item.scatter) ** 2, 0.0) for item in (pair.before, pair.after)]
    common = 0.0 if same_camera else sqrt(sum(shared))
    scattered = float(np.linalg.norm((pair.before.scatter, pair.after.scatter))) / sqrt(count)
    margin = float(np.hypot(stdtrit(freedom, 0.975) * max(error, scattered), common))
    call: Call = "no_detectable_change"
    between = f"from {labels[0]} to {labels[1]}"
    moved = f"{format_direction(change)} by {pair.before.format(abs(change), margin)} {between}"
    blur = pair.before.format(detectable)
    if not enough:
        call, words = "too_few_reps", f"too few reps in common ({count}) to tell a difference"
    elif p_family > ALPHA:
        words = f"no certain change {between}"
    elif abs(change) <= max(detectable, margin):
        words = f"{moved}: no certain change; the measurement error alone can be {blur}"
    else:
        call = "changed"
        words = f"{moved}, beyond the measurement error of {blur}"
    joint = " " if enough and p_family <= ALPHA else ": "
    return Difference(
        measure=pair.before.measure,
        aspect=pair.aspect,
        unit=pair.before.unit,
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
        sentence=f"{pair.before.title}{joint}{words}.",
    )


def _compute_group_error(pair: _Pair, same_camera: bool) -> float:
    """Standard error of measurement of one group's mean, both groups taken together."""
    count = min(len(pair.first), len(pair.second))
    errors = [
        compute_mean_error(item.scatter, item.margin, count, same_camera=same_camera)
        for item in (pair.before, pair.after)
    ]
    return float(np.sqrt(np.mean(np.square(errors))))


def _compute_blur_chance(pair: _Pair, same_camera: bool) -> float:
    """Two-sided probability that measuring and the scatter of the reps make such a difference of matched reps."""
    from scipy.special import ndtr

    d = pair.second - pair.first
    own = float(d.var(ddof=1)) / len(d)
    error = float(np.sqrt(2 * _compute_group_error(pair, same_camera) ** 2 + (0.0 if same_camera else own)))
    return float(2 * ndtr(-abs(d.mean()) / error))


def _arrange_by_rep(pairs: Sequence[_Pair]) -> Array:
    """(n, m) differences, a row for each rep number in common, NaN where a measure lacks it."""
    reps = sorted({rep for pair in pairs for rep in pair.reps})
    out = np.full((len(reps), len(pairs)), np.nan)
    for column, pair in enumerate(pairs):
        out[[reps.index(rep) for rep in pair.reps], column] = pair.second - pair.first
    return out


def _summarise(differences: Sequence[Difference], notes: Sequence[str], enough: bool, labels: tuple[str, str]) -> str:
    if not enough:
        return notes[-1]
    changed = [item for item in differences if item.call == "changed"]
    if not changed:
        return f"No certain change from {labels[0]} to {labels[1]} in any of {len(differences)} measures."
    first = next((item for item in changed if item.aspect), changed[0])
    others = [get_plain_name(item.measure) for item in changed if item is not first]
    return first.sentence + (f" Also changed: {join_words(others)}." if others else "")
