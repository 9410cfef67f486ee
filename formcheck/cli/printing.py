"""What the commands print: tables and plain sentences."""

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from rich.console import Console, Group
from rich.table import Table
from rich.text import Text

from formcheck.core.model import Review, Verdict, ViewName
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.exercises.registry import general_cautions, own_cautions, references
from formcheck.exercises.schema import Exercise
from formcheck.report import summary, wording
from formcheck.report.next_cue import next_cue
from formcheck.report.problem_text import (
    describe_problems,
    is_blocked,
    likely_exercise,
    list_text,
    reps_doubted,
    review_blocked,
)
from formcheck.report.second_camera import second_lines

if TYPE_CHECKING:
    # The store knows corrections by hand and so the rep finder with scipy: listing exercises must not wait for it.
    from formcheck.storage import StoredReview

_PLAIN_WIDTH = 110
_UNITS = {"deg": "°", "deg/s": "°/s", "s": "s", "ratio": "ratio", "none": "no unit"}
_STYLES: dict[Verdict, str] = {"not_met": "bold yellow", "undecided": "bold cyan", "met": "bold green"}


def console(plain_width: int = _PLAIN_WIDTH) -> Console:
    """Standard output: as wide as the terminal, or of the given width where there is none."""
    width = None if sys.stdout.isatty() else plain_width
    return Console(width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)


def print_review(
    review: Review,
    exercise: Exercise | None,
    *,
    as_another: Callable[[str], str] | None = None,
    kept: bool = False,
) -> None:
    """What makes the review impossible or incomplete, the set in short, its reps, findings, and the cautions.

    as_another : exercise id → the command that reviews the clip as that.
    kept : whether that command corrects a stored review, which then stands as said by hand.
    """
    out = console()
    out.print(Text(f"{review.exercise.name}: {safe(review.clip.name)}", style="bold"))
    _print_problems(out, review, as_another, kept=kept)
    if review_blocked(review):
        _print_blocked(out, review, exercise)
        return
    facts = [f"{wording.view_text(review.view)}.", *wording.quality_lines(review.quality), *second_lines(review)]
    load = wording.load_text(review.set_info.load_kg)
    out.print(f"{load}. {facts[0]}" if load else facts[0])
    for line in facts[1:]:
        out.print(line)
    out.print()
    out.print(Text(wording.outcome(review), style="bold"))
    if review.by_hand:
        out.print("Corrected by hand:")
        for sentence in review.by_hand:
            print_item(out, sentence)
    if review.reps:
        out.print(_rep_table(review, exercise))
        margin = "± is the margin: in 95 of 100 cases the true value lies within it, as found on rendered lifters."
        out.print(f"{margin} {wording.TEMPO_ORDER}")
    cue = next_cue(review, exercise)
    if cue is not None:
        print_heading(out, "Next cue")
        print_item(out, cue.cue, cue.why)
    _print_findings(out, review, exercise)
    missing = summary.missing_measures(review)
    if missing:
        print_heading(out, "Not measured in this clip")
        reasons: dict[str, list[str]] = {}
        for name, reason in missing:
            reasons.setdefault(reason, []).append(name)
        for reason, names in reasons.items():
            print_item(out, reason, "; ".join(names))
    _print_own_cautions(out, review)


def _print_own_cautions(out: Console, review: Review) -> None:
    print_heading(out, "Please note")
    for caution in review.cautions:
        if caution not in general_cautions():
            print_item(out, caution)
    print_short_caution()


def _print_problems(out: Console, review: Review, as_another: Callable[[str], str] | None, *, kept: bool) -> None:
    for sentence in describe_problems(review):
        out.print(Text(f"! {sentence}", style="bold yellow"))
    other = likely_exercise(review)
    if other is not None and as_another is not None:
        out.print(f"To do that: {safe(as_another(other))}", soft_wrap=True)
        if kept and reps_doubted(review):
            asked = f"If it is {safe(review.exercise.name)} all the same: {safe(as_another(review.exercise.id))}"
            out.print(asked, soft_wrap=True)


def _print_blocked(out: Console, review: Review, exercise: Exercise | None) -> None:
    """What little can be said of a clip from which nothing may be concluded."""
    for line in wording.quality_lines(review.quality):
        out.print(line)
    if exercise is not None:
        out.print(f"How to film it: {exercise.filming.advice}")
    if review.by_hand:
        out.print("Corrected by hand:")
        for sentence in review.by_hand:
            print_item(out, sentence)
    _print_own_cautions(out, review)


def _rep_table(review: Review, exercise: Exercise | None) -> Table:
    columns = summary.main_columns(review, exercise)
    table = new_table(
        "Rep", "Begins", "Top", "Tempo", *(wording.capital(wording.measure_name(name)) for name in columns)
    )
    for column in table.columns[:4]:
        column.no_wrap = True  # figures are read whole; the long heads give way
    for row in summary.rep_rows(review, columns):
        rep = row.rep
        marks = [word for word, true in (("partial", not rep.complete), ("by hand", rep.by_hand)) if true]
        number = f"{rep.number} ({', '.join(marks)})" if marks else str(rep.number)
        cells = ["\n".join(f"{side} {value}".strip() for side, value in cell.values) for cell in row.cells]
        table.add_row(number, wording.moment(rep.start_s), wording.moment(rep.top_s), row.tempo, *cells)
    return table


def _print_findings(out: Console, review: Review, exercise: Exercise | None) -> None:
    bases: dict[str, int] = {}
    for verdict, findings in summary.grouped_findings(review, exercise).items():
        if not findings:
            continue
        print_heading(out, wording.VERDICT_WORDS[verdict], _STYLES[verdict])
        for item in findings:
            note = f" [{bases.setdefault(item.basis, len(bases) + 1)}]" if item.basis else ""
            moment = f"{item.moment} in the clip" if item.moment else ""
            evidence = " · ".join(part for part in (item.evidence, moment) if part)
            sentences = " ".join(part for part in (item.cue, item.text, item.film_instead) if part)
            print_item(out, f"{item.title}{note}", sentences, evidence, item.others)
    if bases:
        print_heading(out, "Where the limits come from")
        for basis, number in bases.items():
            print_item(out, basis, mark=f"[{number}]")


def print_exercises(exercises: Sequence[Exercise]) -> None:
    """One row an exercise."""
    table = new_table("Id", "Exercise", "Film from")
    for exercise in exercises:
        table.add_row(exercise.id, exercise.name, _from(exercise.filming.best_view))
    out = console()
    out.print(table)
    out.print("formcheck show ID explains what is measured, and from which camera side.")


def print_exercise(exercise: Exercise) -> None:
    """What is measured, from which side, with which limits and sources."""
    out = console()
    out.print(Text(f"{exercise.name} ({exercise.id})", style="bold"))
    out.print(exercise.summary)
    print_heading(out, "How to film it")
    out.print(f"Best from {_from(exercise.filming.best_view)}. {exercise.filming.advice}")
    print_heading(out, "What is checked")
    for check in exercise.checks:
        source = references()[check.source]
        known = "" if source.tag in source.text.lower() else f" ({source.tag})"
        print_item(
            out,
            check.title,
            f"{wording.capital(wording.measure_name(check.measure))}: {wording.limit_words(check)}; "
            f"seen from {_views(exercise.views_for(check))}. Cue: {check.cue}",
            f"Basis: {source.text.rstrip('.')}{known}.",
        )
    if exercise.untold:
        print_heading(out, "What no camera tells")
        for point in exercise.untold:
            print_item(out, point.title, point.reason)
    if exercise.variations:
        print_heading(out, "Variations (--variation ID)")
        for variation in exercise.variations:
            print_item(out, f"{variation.name} ({variation.id})", variation.summary)
    print_heading(out, "What is measured")
    table = new_table("Measure", "What it is", "Unit", "Seen from")
    for use in exercise.measures:
        term = MEASURES[use.name]
        unit = "%" if use.name in PERCENT else _UNITS[term.unit]
        table.add_row(wording.capital(term.plain), term.meaning, unit, _views(use.views))
    out.print(table)
    print_heading(out, "Please note")
    for caution in own_cautions(exercise):
        print_item(out, caution)
    print_short_caution()


def print_short_caution() -> None:
    """The one sentence of care, with the command that shows all cautions."""
    print_item(console(), wording.short_caution("formcheck cautions"))


def print_cautions(exercises: Sequence[Exercise]) -> None:
    """Every caution in full: those for everyone, then those of each exercise."""
    out = console()
    out.print(Text("For everyone and every exercise", style="bold"))
    for caution in general_cautions():
        print_item(out, caution)
    for exercise in exercises:
        if own := own_cautions(exercise):
            print_heading(out, exercise.name)
            for caution in own:
                print_item(out, caution)


def print_history(rows: Sequence["StoredReview"]) -> None:
    """One row a stored review, the newest first."""
    out = console(plain_width=400)  # one line a review, for programs that read lines
    if not rows:
        out.print("No reviews are stored yet.")
        return
    known = any(row.client for row in rows)
    of_client = ("Client", "Session", "Set") if known else ()
    of_problems = ("Problem",) if any(row.problem_codes for row in rows) else ()
    counted = ("Reps", "Well", "To change", "Not judged")
    table = new_table("No.", "Reviewed", *of_client, "Clip", "Exercise", "Load", *counted, *of_problems)
    for row in rows:
        reps = str(row.complete_reps) + (f" + {row.partial_reps} partial" if row.partial_reps else "")
        counts = [str(number) for number in (row.met, row.not_met, row.undecided)]
        if is_blocked(row.problem_codes):
            reps, counts = "", ["", "", ""]
        table.add_row(
            str(row.id),
            f"{row.created_at.astimezone():%Y-%m-%d %H:%M}",
            *((safe(row.client or ""), str(row.session_on), str(row.set_number)) if known else ()),
            safe(row.clip_name),
            row.exercise_id + (" (by hand)" if row.by_hand else ""),
            wording.load_text(row.load_kg),
            reps,
            *counts,
            *((list_text(row.problem_codes),) if of_problems else ()),
        )
    out.print(table)


def safe(text: str) -> str:
    """Text from outside without the characters that could steer the terminal."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def new_table(*columns: str) -> Table:
    """An empty table with these columns, without lines."""
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    for name in columns:
        table.add_column(name, overflow="fold")
    return table


def print_heading(out: Console, text: str, style: str = "bold") -> None:
    """A heading, with a line free above it."""
    out.print()
    out.print(Text(text, style=style))


def print_item(out: Console, *lines: str, mark: str = "•") -> None:
    """One item of a list; empty lines are left out."""
    row = Table.grid(padding=(0, 1, 0, 0))
    row.add_row(mark, Group(*(Text(line) for line in lines if line)))
    out.print(row)


def _from(view: ViewName | str) -> str:
    names = {"front": "the front", "back": "behind", "left": "the left", "right": "the right", "side": "the side"}
    return names.get(view, "an angle")


def _views(views: Sequence[ViewName]) -> str:
    if not views:
        return "no single camera"
    names = [view for view in views if view not in ("left", "right")]
    if {"left", "right"} <= set(views):
        words = [_from(view) for view in names] + ["the side"]
    else:
        words = [_from(view) for view in views]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
