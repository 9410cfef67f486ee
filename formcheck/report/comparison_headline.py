"""What a comparison comes to, in at most twelve words."""

from formcheck.report import wording
from formcheck.report.words import WORDS
from formcheck.statistics.change_text import format_amount
from formcheck.statistics.results import Comparison, Difference

MOST_WORDS = 12


def make_headline(found: Comparison, label: str, course: str = "") -> str:
    """The surest large change of form, or that there is none that can be told.

    Parameters
    ----------
    label : what to call the second of the two, such as ``the late reps``.
    course : said instead where no change between the two can be told: from which rep on the set is otherwise.
    """
    words = WORDS["comparison"]
    changed = [item for item in found.differences if item.call == "changed"]
    if not changed and course:
        return course
    if not changed:
        return words["too-few" if all(item.call == "too_few_reps" for item in found.differences) else "none"]
    first = max(changed, key=lambda item: (item.aspect is not None, abs(item.change) / max(item.margin, 1e-9)))
    name, amount = wording.get_measure_name(first.measure), _format(first)
    way = words["more" if abs(first.after) > abs(first.before) else "less"]
    text = words["changed"].format(name=wording.capitalise(name), amount=amount, way=way, label=label)
    if len(text.split()) <= MOST_WORDS:
        return text
    text = words["changed-short"].format(name=wording.capitalise(name), amount=amount, way=way)
    return text if len(text.split()) <= MOST_WORDS else words["several"].format(amount=len(changed))


def _format(item: Difference) -> str:
    return format_amount(abs(item.change), item.unit, None, measure=item.measure)
