"""What a correction by hand does, as HTML text; every string of a review is escaped."""

from collections.abc import Sequence

from formcheck.core.model import Rep, Review
from formcheck.exercises.schema import Exercise
from formcheck.report import summary, wording
from formcheck.report.wording import ShownGrade
from formcheck.verdicts import grade_points
from formcheck.web.markup import render

Values = list[list[str]]
"""The numbers of a rep in the order of the columns, each of one or two lines."""


def render_effect(before: Review, after: Review, exercise: Exercise | None) -> str:
    """What changes: the sentence in short, the reps' numbers, the points judged otherwise."""
    columns = summary.choose_main_columns(after, exercise)[:2]
    names = [*(wording.capitalise(wording.get_plain_name(name)) for name in columns), "Tempo"]
    rows = _find_changed_reps(before, after, columns) if after.reps else None
    grades = _find_changed_grades(before, after, exercise)
    return render("correction", "effect", wording.summarise(before), wording.summarise(after), names, rows, grades)


def _find_changed_reps(
    before: Review, after: Review, columns: Sequence[str]
) -> list[tuple[Rep, Values, Values | None]]:
    """Reps that are new (None) or whose numbers differ, with both; matched by their moments."""
    earlier = {row.rep.number: _list_values(row) for row in summary.make_rep_rows(before, columns)}
    changed = []
    for row in summary.make_rep_rows(after, columns):
        numbers = (rep.number for rep in before.reps if rep.start_s < row.rep.top_s <= rep.end_s)
        same = next(numbers, None)
        was, now = earlier[same] if same is not None else None, _list_values(row)
        if now != was:
            changed.append((row.rep, now, was))
    return changed


def _list_values(row: summary.RepRow) -> Values:
    return [[f"{side} {value}".strip() for side, value in cell.values] for cell in row.cells] + [[f"{row.tempo} s"]]


def _find_changed_grades(
    before: Review, after: Review, exercise: Exercise | None
) -> list[tuple[str, ShownGrade | None, ShownGrade | None]]:
    """Title of each check the set has another grade in, with the grade before and after."""
    was, now = _list_grades(before), _list_grades(after)
    return [
        (summary.get_title(exercise, check), was.get(check), now.get(check))
        for check in dict.fromkeys([*was, *now])
        if was.get(check) != now.get(check)
    ]


def _list_grades(review: Review) -> dict[str, ShownGrade]:
    return {check: grade or "unseen" for check, grade in grade_points(review).items()}
