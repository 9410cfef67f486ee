"""What the commands about training print."""

from collections.abc import Sequence

from rich.text import Text

from formcheck.cli.printing import (
    SHORT_CAUTION,
    WIDE,
    make_console,
    make_printable,
    print_heading,
    print_item,
    print_section,
    print_table,
)
from formcheck.coaching.advice import Advice
from formcheck.coaching.note import SetNote
from formcheck.coaching.progress import Progress
from formcheck.coaching.rating import Agreement, Rating
from formcheck.core.model import Review
from formcheck.core.vocabulary.numbers import round_up
from formcheck.exercises.limits import OWN_LIMIT, dump_limits
from formcheck.exercises.schema import Exercise
from formcheck.report import wording
from formcheck.report.problem_text import get_exercise_name
from formcheck.report.rating_text import describe_rating, list_agreement_rows
from formcheck.report.reference_text import describe_held
from formcheck.report.set_course import describe_course
from formcheck.report.words import WORDS
from formcheck.services.own_limits import LimitEffect
from formcheck.statistics.results import Comparison, SetCourse
from formcheck.statistics.set_trends import is_unseen
from formcheck.storage import Client, Revision, Session, StoredLimits, StoredPlan
from formcheck.storage.rows import StoredReferenceRep

_NONE = "·"


def print_clients(clients: Sequence[tuple[Client, Sequence[Session]]]) -> None:
    """One row a client."""
    rows = []
    for client, sessions in clients:
        days = {session.day for session in sessions}
        last = wording.format_day(max(days)) if days else _NONE
        name, notes = make_printable(client.name), make_printable(client.notes or "")
        rows.append((name, len(days), last, notes))
    columns = ("Client", "Sessions", "Last session", "Notes")
    print_table(make_console(WIDE), columns, rows, empty="No clients are stored yet.")


def print_client(
    client: Client,
    plans: Sequence[StoredPlan],
    sessions: Sequence[Session],
    references: Sequence[StoredReferenceRep],
) -> None:
    """Notes, plans in force, reference reps, sessions."""
    out = make_console(WIDE)
    out.print(Text(make_printable(client.name), style="bold"))
    if client.notes:
        out.print(make_printable(client.notes))
    newest = {item.exercise_id: item for item in plans}.values()
    planned = [
        f"{item.exercise_id}: {item.plan} (from {wording.format_day(item.since)})"
        for item in newest
        if item.plan is not None
    ]
    print_section(out, "Planned", planned)
    held = [f"{item.exercise_id}: {describe_held(item.view, item.session_on)}" for item in references]
    print_section(out, "Other sets are held against", held)
    print_heading(out, "Sessions")
    rows = []
    for session in sessions:
        sets = [
            row.reps + (f" at {wording.format_load(row.load_kg)}" if row.load_kg is not None else "")
            for row in session.sets
        ]
        numbers = " ".join(str(row.id) for row in session.sets)
        rows.append((wording.format_day(session.day), session.exercise_id, " / ".join(sets), numbers))
    print_table(out, ("Day", "Exercise", "Sets", "Reviews"), rows, empty="None yet.")


def print_plans(plans: Sequence[StoredPlan]) -> None:
    """Every plan, the oldest first."""
    rows = [
        (
            item.since,
            item.exercise_id,
            item.plan if item.plan is not None else "ended",
            make_printable(item.remark or ""),
        )
        for item in plans
    ]
    columns = ("From", "Exercise", "Plan", "Remark")
    print_table(make_console(WIDE), columns, rows, empty="Nothing was ever planned.")


def print_note(note: SetNote | None) -> None:
    """A note in one line."""
    said = wording.format_note(note) or "Nothing was said about this set."
    make_console().print(make_printable(said), soft_wrap=True)


def print_corrections(revisions: Sequence[Revision], by_hand: Sequence[str]) -> None:
    """What was corrected, when, and what holds."""
    out = make_console()
    if not revisions:
        out.print("Nothing was corrected by hand.")
        return
    for item in revisions:
        state = "holds" if item.undone_at is None else "undone"
        out.print(f"{item.number}. made {wording.format_time(item.created_at)}, {state}")
    for sentence in by_hand:
        print_item(out, sentence)


def print_ratings(review: Review, ratings: Sequence[Rating]) -> None:
    """What the coach answered, one line an answer."""
    out = make_console()
    for item in ratings:
        why = f" ({make_printable(item.why)})" if item.why else ""
        out.print(f"{describe_rating(item, review)}{why}")
    if not ratings:
        out.print(WORDS["ratings"]["none"])


def print_agreement(found: Sequence[Agreement]) -> None:
    """One row a check, the most disputed first, and all together."""
    columns = ("Exercise", "Check", "Agree", "Disagree", "Share that agrees")
    empty = "No answer is kept yet; formcheck rate keeps them."
    print_table(make_console(WIDE), columns, list_agreement_rows(found), empty=empty)


def print_reference_reps(found: Sequence[tuple[str, StoredReferenceRep]]) -> None:
    """One row a rep, with the name of its client."""
    rows = []
    for name, item in found:
        of_what = make_printable(name), get_exercise_name(item.exercise_id), wording.VIEW_WORDS[item.view]
        where = f"review {item.review_id}", wording.format_moment(item.rep_s), wording.format_day(item.session_on)
        rows.append((*of_what, *where))
    columns = ("Client", "Exercise", "Filmed", "Set", "Its top", "Session")
    print_table(make_console(WIDE), columns, rows, empty="There is no reference rep yet.")


def print_limits(shipped: Exercise, own: Exercise) -> None:
    """Every check with the limit that holds."""
    rows, before = [], {check.id: wording.format_check_limit(check) for check in shipped.checks}
    for check in own.checks:
        mark, earlier = (" (own)", before[check.id]) if check.source == OWN_LIMIT else ("", "")
        rows.append(
            (check.id, check.title, wording.format_check_limit(check) + mark, earlier, make_printable(check.cue))
        )
    print_table(make_console(WIDE), ("Check", "What", "Holds", "Shipped", "Cue"), rows)


def print_limits_history(history: Sequence[StoredLimits]) -> None:
    """Every entry, the oldest first."""
    out = make_console(WIDE)
    if not history:
        out.print("No own limits were ever kept.")
    for item in history:
        parts = [
            f"{check} " + ", ".join(f"{key} {make_printable(str(value))}" for key, value in values.items())
            for check, values in dump_limits(item.changes).items()
        ]
        out.print(f"{item.id}. {wording.format_time(item.created_at)}: {'; '.join(parts) or 'as shipped'}")


def print_effects(effects: Sequence[LimitEffect], *, trial: bool) -> None:
    """Which findings of past reviews would change."""
    out = make_console()
    word = "would change" if trial else "are judged differently from now on; the stored reviews stay as they are"
    if not effects:
        out.print("No finding of a past review would change.")
        return
    out.print(f"Findings of {wording.count(len(effects), 'past review')} {word}:")
    for effect in effects:
        lines = [
            f"{change.title}: {_describe_grade(change.before)} → {_describe_grade(change.after)} "
            f"in {wording.count(len(change.reps), 'rep')}"
            for change in effect.changes
        ]
        who = f", {make_printable(effect.row.client)}" if effect.row.client else ""
        print_item(out, f"Review {effect.row.id}{who}, {wording.format_day(effect.row.session_on)}", *lines)


def _describe_grade(grade: wording.ShownGrade | None) -> str:
    return "not looked at" if grade is None else wording.GRADE_WORDS[grade].lower()


# ---------------------------------------------------------------- comparisons and progress


def print_comparison(reviews: Sequence[Review], found: Comparison, trend: SetCourse | None) -> None:
    """What changed, with margins, and how far it can be trusted."""
    out = make_console()
    names = " and ".join(make_printable(review.clip.name) for review in reviews)
    out.print(Text(f"{reviews[0].exercise.name}: {names}", style="bold"))
    out.print(Text(found.sentence, style="bold"))
    if trend is not None:
        print_item(out, describe_course(trend, reviews[0]))
        if trend.speed_loss is not None:
            print_item(out, trend.speed_loss.sentence, trend.speed_loss.caveat)
    print_section(out, "Changed", [item.sentence for item in found.differences if item.call == "changed"])
    same = [wording.get_plain_name(item.measure) for item in found.differences if is_unseen(item.call)]
    print_section(out, "No detectable change", [wording.capitalise("; ".join(same))] if same else [])
    notes = dict.fromkeys([*found.notes, *(trend.notes if trend is not None else ())])
    for note in (*(note for note in notes if note != found.sentence), SHORT_CAUTION):
        print_item(out, note)


def print_progress(found: Progress, client: str) -> None:
    """Sessions, what changed, the advice."""
    out = make_console(WIDE)
    out.print(Text(f"{make_printable(client)}: {found.exercise_name}", style="bold"))
    rows = []
    for line in found.sessions:
        margin = f" ± {round_up(line.range_margin_deg, 0):.0f}°" if line.range_margin_deg is not None else ""
        done = [item.reps if item.complete_reps or item.load_kg else _NONE for item in line.sets]
        reps = (" / " if any(item.complete_left is not None for item in line.sets) else "/").join(done)
        load = wording.format_load(line.load_kg) or _NONE
        reach = _NONE if line.range_deg is None else f"{line.range_deg:.0f}°{margin}"
        form = ("Pain was noted. " if line.pain else "") + line.form
        rows.append((wording.format_day(line.day), line.plan or _NONE, reps, load, reach, form))
    heads = ("Day", "Planned", "Reps done", "Load", f"Range, set {found.set_number}", "Form in the last set")
    print_table(out, heads, rows)
    print_heading(out, "Over the sessions")
    out.print(found.sentence)
    if found.latest is not None:
        print_heading(out, "Newest session against the one before")
        out.print(found.latest.sentence)
        for note in found.latest.notes:
            print_item(out, note)
    off = [
        item.sentence
        for item in found.sessions[-1].sets
        if item.reps_over or item.load_over_kg or item.targets or (item.planned and item.planned.each_side)
    ]
    print_section(out, "Newest session against the plan", off)
    if found.one_rep_max is not None:
        print_section(out, "Strength", [(found.one_rep_max.sentence, found.one_rep_max.caveat)])
    _print_advice(found.advice)


def _print_advice(advice: Advice) -> None:
    out = make_console()
    print_heading(out, "For the next session (advice, never an order)")
    out.print(make_printable(advice.text))
    items = [f"What this rests on: {sentence}" for sentence in advice.inputs]
    items += [f"What speaks for caution: {sentence}" for sentence in advice.doubt]
    items += [f"Rule: {advice.source}"] if advice.source else []
    for item in filter(None, (*items, advice.stop_signs, SHORT_CAUTION)):
        print_item(out, item)
