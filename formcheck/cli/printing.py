"""What the commands print: tables and plain sentences."""

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from rich.console import Console, Group
from rich.table import Table
from rich.text import Text

from formcheck.core.model import Review, ViewName
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.exercises.registry import list_general_cautions, list_own_cautions, load_references
from formcheck.exercises.schema import Exercise
from formcheck.report import summary, wording
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.problem_text import (
    are_reps_doubted,
    describe_problems,
    find_likely_exercise,
    is_blocked,
    is_review_blocked,
    name_problems,
)
from formcheck.report.summary import FindingView
from formcheck.report.wording import ShownGrade, describe_second
from formcheck.report.words import WORDS

if TYPE_CHECKING:
    # The store knows corrections by hand and so the rep finder with scipy: listing exercises must not wait for it.
    from formcheck.storage import StoredReview

PLAIN_WIDTH, WIDE = 110, 400
"""Columns where there is no terminal; wide: one line a row, for programs that read lines."""
_UNITS = {"deg": "°", "deg/s": "°/s", "s": "s", "ratio": "ratio", "none": "no unit"}
_STYLES: dict[ShownGrade, str] = {
    "not_met": "bold yellow",
    "probably_not_met": "yellow",
    "met": "bold green",
    "probably_met": "green",
    "close": "bold cyan",
    "unseen": "cyan",
}
RESULT_COLUMNS = ("Reps", "Well", "To change", "Not judged")
SHORT_CAUTION = wording.describe_caution("formcheck cautions")
SHORTER_CAUTION = f"{wording.CAUTION_IN_SHORT} All cautions: formcheck cautions"
MARGIN = "± is the margin: in 95 of 100 cases the true value lies within it, as found on rendered lifters."
_SIDES = {"front": "the front", "back": "behind", "left": "the left", "right": "the right", "side": "the side"}


def make_console(plain_width: int = PLAIN_WIDTH) -> Console:
    """Standard output: as wide as the terminal, or of the given width where there is none."""
    width = None if sys.stdout.isatty() else plain_width
    return Console(width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)


def print_review(
    review: Review,
    exercise: Exercise | None,
    *,
    format_command: Callable[[str], str] | None = None,
    stored: bool = False,
    details: bool = True,
    more: str = "",
) -> None:
    """What makes the review impossible or incomplete, the next cue, the set in short, its reps, findings, cautions.

    format_command : exercise id → the command that reviews the clip as that.
    stored : whether that command corrects a stored review, which is then corrected by hand.
    details : with the evidence for each point, where its limit comes from, what was not measured and why, and every
        caution in full; without them a point that is to change has its evidence, the others their names alone.
    more : how to get the details, for a review printed without.
    """
    out = make_console()
    out.print(Text(f"{review.exercise.name}: {make_printable(review.clip.name)}", style="bold"))
    _print_problems(out, review, format_command, stored=stored)
    if is_review_blocked(review):
        for line in wording.describe_quality(review.quality):
            out.print(line)
        if exercise is not None:
            out.print(f"How to film it: {exercise.filming.advice}")
        _print_corrections(out, review)
        _print_cautions(out, review, details=details)
        return
    load = wording.format_load(review.set_info.load_kg)
    view = f"{wording.describe_view(review.view)}."
    out.print(f"{load}. {view}" if load else view)
    later = () if details else _list_hidden_arms(review)
    notes = wording.describe_quality(review.quality) if details else review.quality.notes
    for line in (*(note for note in notes if note not in later), *describe_second(review)):
        out.print(line)
    _print_corrections(out, review)
    cue = choose_next_cue(review, exercise)
    if cue is not None:
        print_section(out, "Next cue" if cue.kind == "change" else cue.title, [(cue.cue, cue.why)])
    out.print()
    out.print(Text(wording.describe_outcome(review, exercise), style="bold"))
    if review.reps:
        _print_reps(out, review, exercise)
        out.print(f"{MARGIN} {wording.explain_marks(review)}{wording.TEMPO_ORDER}")
    print_reference(out, review, details=details)
    if details:
        _print_findings(out, review, exercise)
        reasons: dict[str, list[str]] = {}
        for name, reason in [*summary.list_untold(review, exercise), *summary.list_missing_measures(review)]:
            reasons.setdefault(reason, []).append(name)
        missing = [(reason, "; ".join(names)) for reason, names in reasons.items()]
        print_section(out, "Not measured in this clip", missing)
    else:
        _print_points(out, review, exercise, told=cue.cue if cue is not None else "", unseen=later)
    _print_cautions(out, review, details=details)
    if more and not details:
        out.print(f"Each point with its numbers, limits and sources: {more}", soft_wrap=True)


def _list_hidden_arms(review: Review) -> tuple[str, ...]:
    """What is said of an arm that is hidden, in a set of both arms: the other one tells its count, so it can wait."""
    if any(rep.side for rep in review.reps):
        return ()
    quality = review.quality
    told = zip(quality.notes, quality.notes_coded, strict=False)
    return tuple(text for text, note in told if note.code == "arm-not-shown")


def _print_cautions(out: Console, review: Review, *, details: bool) -> None:
    """The exercise's own cautions, and where all are; in short those two that are most special to it."""
    own = [caution for caution in review.cautions if caution not in list_general_cautions()]
    if details:
        print_section(out, "Please note", [*own, SHORT_CAUTION])
        return
    out.print()
    out.print(SHORTER_CAUTION)
    for caution in own[-2:]:  # the general ones stand first in a review
        out.print(caution)


def _print_problems(out: Console, review: Review, format_command: Callable[[str], str] | None, *, stored: bool) -> None:
    for sentence in describe_problems(review):
        out.print(Text(f"! {sentence}", style="bold yellow"))
    other = find_likely_exercise(review)
    if other is not None and format_command is not None:
        out.print(f"To do that: {make_printable(format_command(other))}", soft_wrap=True)
        if stored and are_reps_doubted(review):
            command = make_printable(format_command(review.exercise.id))
            out.print(f"If it is {make_printable(review.exercise.name)} all the same: {command}", soft_wrap=True)


def _print_corrections(out: Console, review: Review) -> None:
    if review.by_hand:
        out.print("Corrected by hand:")
        for sentence in review.by_hand:
            print_item(out, sentence)


def _print_reps(out: Console, review: Review, exercise: Exercise | None) -> None:
    names = summary.choose_main_columns(review, exercise)
    rows = []
    for row in summary.make_rep_rows(review, names):
        rep = row.rep
        marks: list[str] = [rep.side] if rep.side else []
        marks += [word for word, true in (("partial", not rep.complete), ("by hand", rep.by_hand)) if true]
        number = f"{rep.number} ({', '.join(marks)})" if marks else rep.number
        cells = ["\n".join(f"{side} {value}".strip() for side, value in cell.values) for cell in row.cells]
        rows.append((number, wording.format_moment(rep.start_s), wording.format_moment(rep.top_s), row.tempo, *cells))
    heads = (wording.capitalise(wording.get_plain_name(name)) for name in names)
    # Figures are read whole; the long heads give way.
    print_table(out, ("Rep", "Begins", "Top", "Tempo", *heads), rows, unbroken=4)


def print_reference(out: Console, review: Review, *, details: bool = True) -> None:
    """The set beside the client's reference rep, where there is one; in detail with every number of both."""
    if review.reference is None:
        return
    # It comes with scipy, which a list of exercises must not wait for.
    from formcheck.report.reference_text import COLUMNS, describe_comparison, list_difference_rows

    print_section(out, WORDS["reference_rep"]["heading"], describe_comparison(review.reference))
    if details and review.reference.differences:
        print_table(out, COLUMNS, list_difference_rows(review.reference))


def _print_findings(out: Console, review: Review, exercise: Exercise | None) -> None:
    bases: dict[str, int] = {}
    for grade, findings in summary.group_findings(review, exercise).items():
        items: list[tuple[str, ...]] = []
        for item in findings:
            if grade == "unseen":
                named = f"{item.title} ({item.others})" if item.others else item.title
                items.append((f"{item.film_instead}: {named}.", item.text))
                continue
            note = f" [{bases.setdefault(item.basis, len(bases) + 1)}]" if item.basis else ""
            sentences = " ".join(part for part in (item.cue, item.text) if part)
            items.append((f"{item.title}{note}", sentences, _format_evidence(item), item.others))
        print_section(out, _make_grade_heading(out, grade), items, style=_STYLES[grade])
    if bases:
        print_heading(out, "Where the limits come from")
        for basis, number in bases.items():
            print_item(out, basis, mark=f"[{number}]")


def _print_points(
    out: Console, review: Review, exercise: Exercise | None, *, told: str, unseen: Sequence[str] = ()
) -> None:
    """Every point under its grade: with its evidence where it is to change, else by its name.

    told : the cue printed already, which no point says again.
    unseen : what else this camera does not show.
    """
    names: list[tuple[ShownGrade, str]] = []
    for grade, findings in summary.group_findings(review, exercise).items():
        if not findings:
            continue
        if grade in ("not_met", "probably_not_met"):
            items = [(item.title, "" if item.cue in told else item.cue, _format_evidence(item)) for item in findings]
            print_section(out, _make_grade_heading(out, grade), items, style=_STYLES[grade])
        elif grade == "unseen":
            names += [(grade, f"{item.film_instead}: {item.title}.") for item in findings]
        else:
            names.append((grade, f"{wording.GRADE_WORDS[grade]}: {' · '.join(item.title for item in findings)}."))
    names += [("unseen", text) for text in unseen]
    if names:
        out.print()
    for grade, text in names:
        print_item(out, text, mark=_find_sign(out, grade) or "-")


def _format_evidence(item: FindingView) -> str:
    moment = f"{item.moment} in the clip" if item.moment else ""
    return " · ".join(part for part in (item.evidence, moment) if part)


def _find_sign(out: Console, grade: ShownGrade) -> str:
    """The sign of a grade; empty where the terminal's character set has none."""
    sign = wording.GRADE_SIGNS[grade]
    try:
        sign.encode(out.encoding)
    except (UnicodeEncodeError, LookupError):
        return ""
    return sign


def _make_grade_heading(out: Console, grade: ShownGrade) -> str:
    """Sign, words and how sure that is; without the sign where the terminal's character set has none."""
    note, heading = wording.GRADE_NOTES[grade], f"{_find_sign(out, grade)} {wording.GRADE_WORDS[grade]}".strip()
    return f"{heading} ({note[:1].lower()}{note[1:].rstrip('.')})" if note else heading


def print_exercises(exercises: Sequence[Exercise]) -> None:
    """One row an exercise."""
    out = make_console()
    rows = [(exercise.id, exercise.name, _describe_view(exercise.filming.best_view)) for exercise in exercises]
    print_table(out, ("Id", "Exercise", "Film from"), rows)
    out.print("formcheck show ID explains what is measured, and from which camera side.")


def print_exercise(exercise: Exercise) -> None:
    """What is measured, from which side, with which limits and sources."""
    out = make_console()
    out.print(Text(f"{exercise.name} ({exercise.id})", style="bold"))
    out.print(exercise.summary)
    print_heading(out, "How to film it")
    out.print(f"Best from {_describe_view(exercise.filming.best_view)}. {exercise.filming.advice}")
    checks = []
    for check in exercise.checks:
        source = load_references()[check.source]
        known = "" if source.tag in source.text.lower() else f" ({source.tag})"
        limit = f"{wording.capitalise(wording.get_plain_name(check.measure))}: {wording.format_check_limit(check)}"
        views = _describe_views(exercise.views_for(check))
        basis = f"Basis: {source.text.rstrip('.')}{known}."
        checks.append((check.title, f"{limit}; seen from {views}. Cue: {check.cue}", basis))
    print_section(out, "What is checked", checks)
    print_section(out, "What no camera tells", [(point.title, point.reason) for point in exercise.untold])
    variations = [(f"{variation.name} ({variation.id})", variation.summary) for variation in exercise.variations]
    print_section(out, "Variations (--variation ID)", variations)
    print_heading(out, "What is measured")
    rows = []
    for use in exercise.measures:
        term = MEASURES[use.name]
        unit = "%" if use.name in PERCENT else _UNITS[term.unit]
        rows.append((wording.capitalise(term.plain), term.meaning, unit, _describe_views(use.views)))
    print_table(out, ("Measure", "What it is", "Unit", "Seen from"), rows)
    print_section(out, "Please note", [*list_own_cautions(exercise), SHORT_CAUTION])


def print_cautions(exercises: Sequence[Exercise]) -> None:
    """Every caution in full: those for everyone, then those of each exercise."""
    out = make_console()
    out.print(Text("For everyone and every exercise", style="bold"))
    for caution in list_general_cautions():
        print_item(out, caution)
    for exercise in exercises:
        print_section(out, exercise.name, list_own_cautions(exercise))


def print_history(rows: Sequence["StoredReview"], beside: Mapping[int, str]) -> None:
    """One row a stored review, the newest first; `beside`: what differs from the reference rep, by number."""
    heading = WORDS["reference_rep"]["heading"]
    unused = set() if any(row.client for row in rows) else {"Client", "Session", "Set"}
    unused |= set() if any(row.problem_codes for row in rows) else {"Problem"}
    unused |= set() if beside else {heading}
    table = []
    for row in rows:
        reps = row.reps + (f" + {row.partial_reps} partial" if row.partial_reps else "")
        results = (
            reps,
            wording.format_probable(row.met, row.probably_met),
            wording.format_probable(row.not_met, row.probably_not_met),
            wording.format_undecided(row.undecided, row.too_close),
        )
        cells = {
            "No.": row.id,
            "Reviewed": wording.format_time(row.created_at),
            "Client": make_printable(row.client or ""),
            "Session": wording.format_day(row.session_on),
            "Set": row.set_number,
            "Clip": make_printable(row.clip_name),
            "Exercise": row.exercise_id + (" (by hand)" if row.by_hand else ""),
            "Load": wording.format_load(row.load_kg),
            **dict(zip(RESULT_COLUMNS, [""] * 4 if is_blocked(row.problem_codes) else results, strict=True)),
            heading: make_printable(beside.get(row.id, "")),
            "Problem": name_problems(row.problem_codes),
        }
        table.append({name: cell for name, cell in cells.items() if name not in unused})
    columns = list(table[0]) if table else []
    print_table(make_console(WIDE), columns, (row.values() for row in table), empty="No reviews are stored yet.")


def make_printable(text: str) -> str:
    """Text from outside without the characters that could steer the terminal."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def print_table(
    out: Console, columns: Iterable[str], rows: Iterable[Iterable[object]], *, empty: str = "", unbroken: int = 0
) -> None:
    """A table without lines, or the sentence `empty` where there is no row.

    unbroken : how many columns, from the left, are never broken into lines.
    """
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    for index, name in enumerate(columns):
        table.add_column(name, overflow="fold", no_wrap=index < unbroken)
    for row in rows:
        table.add_row(*map(str, row))
    out.print(table if table.rows or not empty else empty)


def print_heading(out: Console, text: str, style: str = "bold") -> None:
    """A heading, with a line free above it."""
    out.print()
    out.print(Text(text, style=style))


def print_section(out: Console, title: str, items: Iterable[str | Sequence[str]], *, style: str = "bold") -> None:
    """A heading with a list of items of one or more lines; nothing where the list is empty."""
    if items := list(items):
        print_heading(out, title, style)
    for item in items:
        print_item(out, *([item] if isinstance(item, str) else item))


def print_item(out: Console, *lines: str, mark: str = "•") -> None:
    """One item of a list; empty lines are left out."""
    row = Table.grid(padding=(0, 1, 0, 0))
    row.add_row(mark, Group(*(Text(line) for line in lines if line)))
    out.print(row)


def _describe_view(view: ViewName | str) -> str:
    return _SIDES.get(view, "an angle")


def _describe_views(views: Sequence[ViewName]) -> str:
    if not views:
        return "no single camera"
    both = {"left", "right"} <= set(views)
    words = [_describe_view(view) for view in views if not (both and view in ("left", "right"))]
    words += ["the side"] if both else []
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
