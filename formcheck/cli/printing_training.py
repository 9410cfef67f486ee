"""What the commands about training print."""

from collections.abc import Sequence

from rich.text import Text

from formcheck.cli.printing import console, new_table, print_heading, print_item, print_short_caution, safe
from formcheck.coaching.advice import Advice
from formcheck.coaching.note import SetNote
from formcheck.coaching.progress import Progress
from formcheck.core.model import Review
from formcheck.core.vocabulary.numbers import rounded_up
from formcheck.exercises.limits import OWN_LIMIT, plain_limits
from formcheck.exercises.schema import Exercise
from formcheck.report import wording
from formcheck.services.own_limits import LimitEffect
from formcheck.statistics.results import Comparison, SetCourse
from formcheck.storage import Client, Revision, Session, StoredLimits, StoredPlan

_NONE = "·"


def print_clients(clients: Sequence[tuple[Client, Sequence[Session]]]) -> None:
    """One row a client."""
    out = console(plain_width=400)
    if not clients:
        out.print("No clients are stored yet.")
        return
    shown = new_table("Client", "Sessions", "Last session", "Notes")
    for client, sessions in clients:
        days = sorted({session.day for session in sessions})
        shown.add_row(safe(client.name), str(len(days)), str(days[-1]) if days else _NONE, safe(client.notes or ""))
    out.print(shown)


def print_client(client: Client, plans: Sequence[StoredPlan], sessions: Sequence[Session]) -> None:
    """Notes, plans in force, sessions."""
    out = console(plain_width=400)
    out.print(Text(safe(client.name), style="bold"))
    if client.notes:
        out.print(safe(client.notes))
    newest = {item.exercise_id: item for item in plans}
    held = [item for item in newest.values() if item.plan is not None]
    if held:
        print_heading(out, "Planned")
        for item in held:
            print_item(out, f"{item.exercise_id}: {item.plan} (from {item.since})")
    print_heading(out, "Sessions")
    if not sessions:
        out.print("None yet.")
        return
    shown = new_table("Day", "Exercise", "Sets", "Reviews")
    for session in sessions:
        sets = " / ".join(
            f"{row.complete_reps}" + (f" at {wording.load_text(row.load_kg)}" if row.load_kg is not None else "")
            for row in session.sets
        )
        shown.add_row(str(session.day), session.exercise_id, sets, " ".join(str(row.id) for row in session.sets))
    out.print(shown)


def print_plans(plans: Sequence[StoredPlan]) -> None:
    """Every plan, the oldest first."""
    out = console(plain_width=400)
    if not plans:
        out.print("Nothing was ever planned.")
        return
    shown = new_table("From", "Exercise", "Plan", "Remark")
    for item in plans:
        plan = str(item.plan) if item.plan is not None else "ended"
        shown.add_row(str(item.since), item.exercise_id, plan, safe(item.remark or ""))
    out.print(shown)


def note_text(note: SetNote | None) -> str:
    """A note in one line."""
    if note is None:
        return "Nothing was said about this set."
    parts = [
        None if note.reps_in_reserve is None else f"{note.reps_in_reserve:g} more reps were possible",
        None if note.effort is None else f"effort {note.effort:g} of 10",
        {None: None, True: "pain", False: "no pain"}[note.pain]
        if note.pain_where is None
        else f"pain: {note.pain_where}",
        None if note.sleep_h is None else f"{note.sleep_h:g} h of sleep",
        note.remark,
    ]
    return safe("; ".join(part for part in parts if part) + ".")


def print_corrections(revisions: Sequence[Revision], told: Sequence[str]) -> None:
    """What was corrected, when, and what holds."""
    out = console()
    if not revisions:
        out.print("Nothing was corrected by hand.")
        return
    for item in revisions:
        state = "holds" if item.undone_at is None else "undone"
        out.print(f"{item.number}. made {item.created_at.astimezone():%Y-%m-%d %H:%M}, {state}")
    for sentence in told:
        print_item(out, sentence)


def print_limits(shipped: Exercise, own: Exercise) -> None:
    """Every check with the limit that holds."""
    out = console(plain_width=400)
    shown = new_table("Check", "What", "Holds", "Shipped", "Cue")
    before = {check.id: check for check in shipped.checks}
    for check in own.checks:
        changed = check.source == OWN_LIMIT
        was = wording.limit_words(before[check.id]) if changed else ""
        shown.add_row(
            check.id, check.title, wording.limit_words(check) + (" (own)" if changed else ""), was, safe(check.cue)
        )
    out.print(shown)


def print_limits_history(history: Sequence[StoredLimits]) -> None:
    """Every entry, the oldest first."""
    out = console(plain_width=400)
    if not history:
        out.print("No own limits were ever kept.")
    for item in history:
        parts = [
            f"{check} " + ", ".join(f"{key} {safe(str(value))}" for key, value in values.items())
            for check, values in plain_limits(item.changes).items()
        ]
        out.print(f"{item.id}. {item.created_at.astimezone():%Y-%m-%d %H:%M}: {'; '.join(parts) or 'as shipped'}")


def print_effects(effects: Sequence[LimitEffect], *, trial: bool) -> None:
    """Which findings of past reviews would change."""
    out = console()
    word = "would change" if trial else "are judged otherwise from now on; the stored reviews stay as they are"
    if not effects:
        out.print("No finding of a past review would change.")
        return
    out.print(f"Findings of {wording.count(len(effects), 'past review')} {word}:")
    for effect in effects:
        lines = [
            f"{change.title}: {_verdict(change.before)} → {_verdict(change.after)} "
            f"in {wording.count(len(change.reps), 'rep')}"
            for change in effect.changes
        ]
        who = f", {safe(effect.row.client)}" if effect.row.client else ""
        print_item(out, f"Review {effect.row.id}{who}, {effect.row.session_on}", *lines)


def _verdict(verdict: str | None) -> str:
    return "not looked at" if verdict is None else wording.VERDICT_WORDS[verdict].lower()  # type: ignore[index]


# ---------------------------------------------------------------- comparisons and courses


def print_comparison(reviews: Sequence[Review], found: Comparison, course: SetCourse | None) -> None:
    """What changed, with margins, and how far it can be trusted."""
    out = console()
    names = " and ".join(safe(review.clip.name) for review in reviews)
    out.print(Text(f"{reviews[0].exercise.name}: {names}", style="bold"))
    out.print(Text(found.sentence, style="bold"))
    if course is not None:
        print_item(out, course.sentence)
        if course.speed_loss is not None:
            print_item(out, course.speed_loss.sentence, course.speed_loss.caveat)
    changed = [item for item in found.differences if item.call == "changed"]
    kept = [item for item in found.differences if item.call == "no_detectable_change"]
    for title, items in (("Changed", changed), ("No detectable change", kept)):
        if items:
            print_heading(out, title)
            for item in items:
                print_item(out, item.sentence)
    for note in (*found.notes, *(course.notes if course is not None else ())):
        print_item(out, note)
    print_short_caution()


def print_progress(found: Progress, client: str) -> None:
    """Sessions, what changed, the advice."""
    out = console(plain_width=400)
    out.print(Text(f"{safe(client)}: {found.exercise_name}", style="bold"))
    shown = new_table("Day", "Planned", "Reps done", "Load", f"Range, set {found.set_number}", "Form in the last set")
    for line in found.sessions:
        margin = f" ± {rounded_up(line.range_margin_deg, 0):.0f}°" if line.range_margin_deg is not None else ""
        shown.add_row(
            str(line.day),
            line.plan or _NONE,
            "/".join(str(item.complete_reps) if item.complete_reps or item.load_kg else _NONE for item in line.sets),
            wording.load_text(line.load_kg) or _NONE,
            _NONE if line.range_deg is None else f"{line.range_deg:.0f}°{margin}",
            ("Pain was noted. " if line.pain else "") + line.form,
        )
    out.print(shown)
    print_heading(out, "Over the sessions")
    out.print(found.sentence)
    if found.latest is not None:
        print_heading(out, "Newest session against the one before")
        out.print(found.latest.sentence)
        for note in found.latest.notes:
            print_item(out, note)
    off = [item.sentence for item in found.sessions[-1].sets if item.reps_over or item.load_over_kg or item.targets]
    if off:
        print_heading(out, "Newest session against the plan")
        for sentence in off:
            print_item(out, sentence)
    if found.one_rep_max is not None:
        print_heading(out, "Strength")
        print_item(out, found.one_rep_max.sentence, found.one_rep_max.caveat)
    _print_advice(found.advice)


def _print_advice(advice: Advice) -> None:
    out = console()
    print_heading(out, "For the next session (advice, never an order)")
    out.print(safe(advice.text))
    for sentence in advice.inputs:
        print_item(out, f"Looked at: {sentence}")
    for sentence in advice.doubt:
        print_item(out, f"Doubt: {sentence}")
    if advice.source:
        print_item(out, f"Rule: {advice.source}")
    if advice.stop_signs:
        print_item(out, advice.stop_signs)
    print_short_caution()
