"""What a correction does, as HTML text; every string of a review escaped."""

from collections.abc import Sequence
from html import escape

from formcheck.core.model import Rep, Review, Verdict
from formcheck.exercises.schema import Exercise
from formcheck.report import summary, wording
from formcheck.storage.rows import Revision
from formcheck.web.components.review_html import render_seek_button

_MARKS: dict[Verdict, str] = {"met": "✓", "not_met": "↑", "undecided": "–"}


def render_review_line(review: Review) -> str:
    """Which review it is, in one line, and what was changed about it before."""
    mark = ' <span class="fc-by-hand">corrected by hand</span>' if review.by_hand else ""
    return f'<p class="fc-which"><b>{escape(review.exercise.name)}</b> · “{escape(review.clip.name)}”{mark}</p>'


def render_effect(before: Review, after: Review, exercise: Exercise | None) -> str:
    """What changes: the sentence in short, the reps' numbers, the points judged otherwise."""
    rows = _numbers(before, after, exercise)
    judged = _judged(before, after, exercise)
    short_before, short_after = wording.in_short(before), wording.in_short(after)
    changed = f"<p><del>{escape(short_before)}</del></p>" if short_before != short_after else ""
    points = f'<ul class="fc-plain">{"".join(judged)}</ul>' if judged else "<p>No point is judged otherwise.</p>"
    return (
        '<section class="fc-effect" aria-label="What this correction does"><h3>What this correction does</h3>'
        f"{changed}<p>{escape(short_after)}</p>{rows}{points}</section>"
    )


def render_rep_times(reps: Sequence[Rep]) -> str:
    """Start, top and end of every rep, each a button that moves the clip."""
    if not reps:
        return "<p>No reps.</p>"
    rows = "".join(
        f'<tr data-rep="{rep.number}"><th scope="row">{rep.number}{_kind(rep)}</th>'
        + "".join(
            f'<td data-label="{name}">{_to(at, f"Show the {name} of rep {rep.number}")}</td>'
            for name, at in (("start", rep.start_s), ("top", rep.top_s), ("end", rep.end_s))
        )
        + "</tr>"
        for rep in reps
    )
    head = "".join(f'<th scope="col">{name}</th>' for name in ("Rep", "Start", "Top", "End"))
    return f'<table class="fc-table fc-rep-times"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def _to(at_s: float, spoken: str) -> str:
    return render_seek_button(at_s, wording.moment(at_s), f"{spoken}, at {wording.moment(at_s)}")


def render_corrections(told: Sequence[str], kept: Sequence[Revision]) -> str:
    """What holds now, and every correction ever kept with its day."""
    now = "".join(f"<li>{escape(sentence)}</li>" for sentence in told) or "<li>Nothing: the machine’s own result.</li>"
    lines = []
    for item in reversed(kept):
        made = item.created_at.astimezone().strftime("%d %b %Y, %H:%M")
        undone = "" if item.undone_at is None else f", undone {item.undone_at.astimezone():%d %b %Y, %H:%M}"
        lines.append(f"<li>Correction {item.number}, kept {made}{undone}</li>")
    return f'<p>In force:</p><ul class="fc-plain">{now}</ul><ul class="fc-plain fc-kept">{"".join(lines)}</ul>'


def _kind(rep: Rep) -> str:
    marks = [*([] if rep.complete else ["partial"]), *(["by hand"] if rep.by_hand else [])]
    return "".join(f' <span class="fc-by-hand">{mark}</span>' for mark in marks)


def _numbers(before: Review, after: Review, exercise: Exercise | None) -> str:
    """The numbers of reps that are new or differ; the earlier ones beside them, matched by their moments."""
    columns = summary.main_columns(after, exercise)[:2]
    old = {row.rep.number: row for row in summary.rep_rows(before, columns)}
    rows = []
    for row in summary.rep_rows(after, columns):
        same = next((rep for rep in before.reps if rep.start_s < row.rep.top_s <= rep.end_s), None)
        earlier = None if same is None else old[same.number]
        now = [*(_value(cell) for cell in row.cells), f"{row.tempo} s"]
        then = None if earlier is None else [*(_value(cell) for cell in earlier.cells), f"{earlier.tempo} s"]
        if now != then:
            rows.append((row.rep, now, then))
    if not rows:
        return "<p>The numbers of all reps stay.</p>" if after.reps else ""
    names = [*(wording.capital(wording.measure_name(name)) for name in columns), "Tempo"]
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in ("Rep", *names))
    body = ""
    for rep, now, then in rows:
        cells = ""
        for place, value in enumerate(now):
            was = "" if then is None or then[place] == value else f"<del>{_lines(then[place])}</del>"
            cells += f'<td data-label="{escape(names[place])}"><div>{_lines(value)}{was}</div></td>'
        new = ' <span class="fc-by-hand">new</span>' if then is None else ""
        body += f'<tr><th scope="row">{rep.number}{_kind(rep)}{new}</th>{cells}</tr>'
    caption = "Reps whose numbers change; the earlier number is struck through."
    top = f"<caption>{caption}</caption><thead><tr>{head}</tr></thead>"
    return f'<table class="fc-table">{top}<tbody>{body}</tbody></table>'


def _value(cell: summary.Cell) -> str:
    return "\n".join(f"{side} {value}".strip() for side, value in cell.values)


def _lines(text: str) -> str:
    return "<br>".join(f'<span class="fc-line-whole">{escape(line)}</span>' for line in text.split("\n"))


def _judged(before: Review, after: Review, exercise: Exercise | None) -> list[str]:
    titles = {check.id: check.title for check in exercise.checks} if exercise else {}
    was, now = _verdicts(before), _verdicts(after)
    lines = []
    for check in dict.fromkeys([*was, *now]):
        if was.get(check) != now.get(check):
            title = titles.get(check, wording.capital(check.replace("-", " ")))
            lines.append(
                f"<li>{escape(title)}: {format_verdict(was.get(check))} → {format_verdict(now.get(check))}</li>"
            )
    return lines


def format_verdict(verdict: Verdict | None) -> str:
    """Shape and word of a verdict, for a line of text."""
    if verdict is None:
        return "not there"
    word, mark = wording.VERDICT_WORDS[verdict], f'<span aria-hidden="true">{_MARKS[verdict]}</span>'
    return f'<span class="fc-text-{verdict}">{mark} {word[:1].lower()}{word[1:]}</span>'


def _verdicts(review: Review) -> dict[str, Verdict]:
    worst: dict[str, Verdict] = {}
    for verdict in summary.WORST_FIRST:
        for finding in review.findings:
            if finding.verdict == verdict:
                worst.setdefault(finding.check, verdict)
    return worst
