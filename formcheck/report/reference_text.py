"""What is said of a set beside the client's reference rep, on every screen alike."""

from datetime import date

from formcheck.core.model import ReferenceComparison, ReferenceDifference, ViewName
from formcheck.core.vocabulary import get_title
from formcheck.report.wording import VIEW_WORDS, format_day
from formcheck.report.words import WORDS
from formcheck.statistics.change_text import format_amount
from formcheck.statistics.reference_rep import MOST_YAW_DEG

_WORDS = WORDS["reference_rep"]


def write_reason(code: str, **values: object) -> str:
    """Why a rep is no reference rep, or nothing is held against one."""
    return _WORDS[code].format(**values)


def describe_other_side(then: ViewName, now: ViewName) -> str:
    """That the reference rep was filmed from another side."""
    return write_reason("other-side", then=VIEW_WORDS[then], now=VIEW_WORDS[now])


def describe_own(number: int) -> str:
    """That other sets are held against a rep of this one."""
    return write_reason("own", rep=number)


def describe_held(view: ViewName, day: date) -> str:
    """Which reference rep a client has."""
    return write_reason("held", view=VIEW_WORDS[view], day=format_day(day))


def describe_comparison(found: ReferenceComparison) -> list[str]:
    """Where the camera stood, and what differs, a sentence each: what is told first."""
    day, off = format_day(found.session_on), found.yaw_difference_deg
    where = write_reason("which", rep=found.rep, day=day)
    if off is None:
        return [f"{where} {_WORDS['camera-unknown']}"]
    camera = write_reason("camera", off=f"{abs(off):.0f}", margin=f"{found.yaw_margin_deg or 0:.0f}")
    if not found.alike:
        return [f"{where} {camera} {write_reason('not-alike', most=f'{MOST_YAW_DEG:.0f}')}"]
    told = [describe_difference(item) for item in found.differences if item.told]
    if not told:
        told = [_WORDS["nothing"] if found.differences else _WORDS["nothing-in-common"]]
    return [*told, f"{where} {camera}"]


def describe_in_short(found: ReferenceComparison) -> str:
    """What differs, for a line of a list: the largest difference by its margin, and how many more there are."""
    if not found.alike:
        return _WORDS["short-elsewhere"]
    told = sorted((item for item in found.differences if item.told), key=lambda item: -_count_margins(item))
    if not told:
        return _WORDS["short-nothing" if found.differences else "short-nothing-in-common"]
    name, amount = (
        name_difference(told[0]),
        format_amount(abs(told[0].difference), told[0].unit, measure=told[0].measure),
    )
    text = write_reason("short-difference", what=name[:1].lower() + name[1:], amount=amount, way=_name_way(told[0]))
    return write_reason("short-more", told=text, count=len(told) - 1) if len(told) > 1 else text


def describe_own_in_short(number: int) -> str:
    """That other sets are held against a rep of this one, for a line of a list."""
    return write_reason("short-own", rep=number)


def describe_in_history(set_number: int, what: str) -> str:
    """A set beside the reference rep, in a client's history."""
    return write_reason("in-history", number=set_number, what=what)


def _count_margins(item: ReferenceDifference) -> float:
    return abs(item.difference) / max(item.margin, 1e-9)


def describe_difference(item: ReferenceDifference) -> str:
    """One difference with its margin, such as *Torso angle: 6° ± 4° more than the reference rep*."""
    amount = format_amount(abs(item.difference), item.unit, item.margin, measure=item.measure)
    return write_reason("difference", what=name_difference(item), amount=amount, way=_name_way(item))


def name_difference(item: ReferenceDifference) -> str:
    """The measure as a reader knows it, with its side."""
    return get_title(item.measure, item.side)


COLUMNS = ("Number", "Reference rep", "This set", "", "Rep by rep")


def list_difference_rows(found: ReferenceComparison) -> list[tuple[str, str, str, str, str]]:
    """Measure, reference rep, difference of the set, whether it is told, and the reps one by one."""
    rows = []
    for item in found.differences:
        by_rep = " ".join(f"{rep}: {_sign(item, value)}" for rep, value in zip(item.reps, item.by_rep, strict=True))
        margin = format_amount(item.rep_margin, item.unit, measure=item.measure)
        rows.append(
            (
                name_difference(item),
                format_amount(item.reference, item.unit, measure=item.measure),
                _sign(item, item.difference, item.margin),
                _WORDS["told" if item.told else "not-told"],
                f"{by_rep} (± {margin})",
            )
        )
    return rows


def _sign(item: ReferenceDifference, value: float, margin: float | None = None) -> str:
    return ("+" if value >= 0 else "−") + format_amount(abs(value), item.unit, margin, measure=item.measure)


def _name_way(item: ReferenceDifference) -> str:
    return _WORDS["more" if item.difference > 0 else "less"]
