"""Between two single reps: what differs by more than the measurement can blur."""

from scipy.stats import norm

from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.statistics.change_text import amount, moved
from formcheck.statistics.comparability import camera_kept, loads
from formcheck.statistics.continuous_reps import part_of
from formcheck.statistics.detectable_change import Z95, minimal_detectable_change
from formcheck.statistics.onset import holm
from formcheck.statistics.rep_series import Series, aspects_of, series_by_measure
from formcheck.statistics.results import Call, Comparison, Difference

ALPHA = 0.05
"""Chance of any false claim in one comparison."""


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
    if first.exercise.id != second.exercise.id:
        raise UsageError(
            f"Two reps can be compared when they are of one exercise; these are {first.exercise.name} and "
            f"{second.exercise.name}."
        )
    for review, number in ((first, first_rep), (second, second_rep)):
        if number not in {rep.number for rep in review.reps}:
            raise UsageError(f"There is no rep {number} in that set.")
    one_run = same_set and part_of(first, first_rep) == part_of(second, second_rep)
    mine, theirs = (
        {item.measure: item for item in series_by_measure(review) if number in item.reps}
        for review, number in ((first, first_rep), (second, second_rep))
    )
    aspects = {item.measure: aspect for aspect, _, item in aspects_of(tuple(mine.values()))}
    shared = sorted(mine.keys() & theirs.keys(), key=lambda name: (name not in aspects, list(mine).index(name)))
    rows = [(mine[name], theirs[name]) for name in shared]
    values = [(_value(a, first_rep), _value(b, second_rep)) for a, b in rows]
    errors = [_error(a, b, one_run) for a, b in rows]
    chances = [float(2 * norm.sf(abs(b - a) / error)) for (a, b), error in zip(values, errors, strict=True)]
    differences = []
    for (a, _), (before, after), error, p, p_family in zip(rows, values, errors, chances, holm(chances), strict=True):
        change, margin = after - before, Z95 * error
        call: Call = "changed" if p_family <= ALPHA else "no_detectable_change"
        by = amount(abs(change), a.unit, margin, measure=a.measure)
        said = f" {moved(change)} by {by} from {labels[0]} to {labels[1]}"
        sentence = f"{a.title}{said}." if call == "changed" else f"{a.title}: no difference that can be told."
        differences.append(
            Difference(
                measure=a.measure,
                aspect=aspects.get(a.measure),
                unit=a.unit,
                reps=1,
                before=before,
                after=after,
                change=change,
                margin=margin,
                effect=None,
                effect_low=None,
                effect_high=None,
                detectable=minimal_detectable_change(error / 2**0.5),
                p=p,
                p_family=p_family,
                call=call,
                sentence=sentence,
            )
        )
    load_note, told = loads(first, second, labels)
    notes = [] if same_set else [note for note in (load_note,) if note]
    if not same_set:
        notes.append("The reps are from different sets, so a difference must be larger before it can be told.")
    elif not one_run:
        notes.append("The clip is cut between the reps, so a difference must be larger before it can be told.")
    changed = [item for item in differences if item.call == "changed"]
    return Comparison(
        differences=tuple(differences),
        same_camera=same_set or camera_kept(first, second),
        fatigue_can_be_told=same_set or told,
        notes=tuple(notes),
        sentence=" ".join(item.sentence for item in changed[:2])
        or f"The two reps differ in nothing that can be told, of {len(differences)} numbers.",
    )


def _value(item: Series, rep: int) -> float:
    return float(item.values[item.reps.index(rep)])


def _error(a: Series, b: Series, one_run: bool) -> float:
    """Standard deviation of the difference of two single values, from the measuring alone."""
    parts = [item.scatter if one_run else item.margin / Z95 for item in (a, b)]
    return float(max((parts[0] ** 2 + parts[1] ** 2) ** 0.5, 1e-9))
