"""Commands that change how a set is judged: corrections by hand, and a coach's own limits."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from formcheck.cli import options
from formcheck.cli.group import cli
from formcheck.core.errors import UsageError

if TYPE_CHECKING:
    from formcheck.storage import Store


def _moments(*lengths: int) -> Callable[[str], Sequence[float]]:
    """Reads moments of a clip in seconds, such as 3.2,6.5 (BadParameter), as many as one of `lengths`."""

    def parse_moments(text: str) -> Sequence[float]:
        try:
            moments = [float(part) for part in text.split(",")]
        except ValueError:
            moments = []
        if len(moments) not in lengths:
            raise click.BadParameter(f"{text!r} is not a list of moments in seconds, such as 3.2,6.5.")
        return moments

    return parse_moments


@cli.command()
@options.number
@click.option("--move", type=click.IntRange(1), metavar="REP", help="The rep to move, with --start, --top or --end.")
@click.option("--start", "start_s", type=float, metavar="S", help="Where it begins, seconds of the clip.")
@click.option("--top", "top_s", type=float, metavar="S", help="Its top: where the working muscle is shortest.")
@click.option("--end", "end_s", type=float, metavar="S", help="Where it ends.")
@click.option("--add", type=_moments(2, 3), metavar="START,END[,TOP]", help="Add a rep.")
@click.option("--delete", type=click.IntRange(1), metavar="REP", help="Delete a rep.")
@click.option(
    "--leave-out", type=_moments(2), metavar="FROM,TO", help="This part of the clip does not belong to the set."
)
@options.exercise(help="The exercise it really was.")
@click.option("--undo", is_flag=True, help="Take back the last correction.")
@options.details
@options.with_store
def correct(
    number: int,
    start_s: float | None,
    top_s: float | None,
    end_s: float | None,
    undo: bool,
    details: bool,
    store: "Store",
    **corrections: Any,
) -> None:
    """Correct review NUMBER by hand, one step at a time.

    All numbers are worked out again, and the original stays. Without an option: list the corrections so far.
    """
    moments = {"start_s": start_s, "top_s": top_s, "end_s": end_s}
    given = [name for name, value in corrections.items() if value is not None]
    if len(given) + undo > 1:
        raise click.UsageError("One correction at a time, please.")
    if ("move" in given) != any(moment is not None for moment in moments.values()):
        raise click.UsageError("--move REP needs --start, --top or --end, and they need --move.")
    from formcheck.cli.printing import print_review
    from formcheck.cli.printing_training import print_corrections
    from formcheck.cli.reviews import format_correct_command, format_details_command
    from formcheck.exercises.registry import get_exercise
    from formcheck.reps import edits as by_hand
    from formcheck.services.own_limits import exercise_for
    from formcheck.services.stored_analysis import correct as correct_review
    from formcheck.storage.data_folder import data_home

    now = datetime.now(UTC)
    if undo:
        store.undo_revision(number, undone_at=now)
    elif not given:
        print_corrections(store.revisions_of(number), store.load_review(number).by_hand)
        return
    else:
        edits, reps = store.edits_of(number), store.load_review(number).reps
        steps: dict[str, Callable[[Any], by_hand.Edits]] = {
            "move": lambda rep: by_hand.move_rep(edits, reps, rep, **moments),
            "add": lambda added: by_hand.add_rep(edits, reps, *added),
            "delete": lambda rep: by_hand.delete_rep(edits, reps, rep),
            "leave_out": lambda part: by_hand.leave_out(edits, *part),
            "exercise_id": lambda name: by_hand.set_exercise(edits, get_exercise(name).id),
        }
        correct_review(store, number, steps[given[0]](corrections[given[0]]), data_home(), created_at=now)
    review = store.load_review(number)
    (row,) = store.list_reviews(review_id=number)
    exercise = None
    try:
        exercise = exercise_for(store, review.exercise.id, row.client_id)
    except UsageError as error:  # the correction is stored all the same
        click.echo(str(error), err=True)
    command, more = partial(format_correct_command, number), format_details_command(number)
    print_review(review, exercise, format_command=command, stored=True, details=details, more=more)


@cli.command()
@click.argument("numbers", type=click.IntRange(1), nargs=-1, required=True, metavar="NUMBER...")
@options.with_store
def renew(numbers: Sequence[int], store: "Store") -> None:
    """Make stored reviews again with today's version.

    The body points that are kept are enough. The originals stay: `formcheck correct NUMBER --undo` brings them back.
    """
    from formcheck.report.wording import summarise
    from formcheck.services.stored_analysis import renew as renew_review
    from formcheck.storage.data_folder import data_home

    for number in numbers:
        made = renew_review(store, number, data_home(), created_at=datetime.now(UTC))
        click.echo(f"Review {number}: {summarise(made.review)}")


@cli.group()
def limits() -> None:
    """Own limits, tolerances and cues, for all clients or for one."""


_client = click.option("--client", metavar="NAME", help="For this client only; for all if not given.")


@limits.command("show")
@options.exercise_argument
@_client
@click.option("--history", is_flag=True, help="Every entry ever kept, with its number.")
@options.with_store
def show_limits(exercise_id: str, client: str | None, history: bool, store: "Store") -> None:
    """Show the limits in force, and which of them are your own."""
    from formcheck.cli.printing_training import print_limits, print_limits_history
    from formcheck.exercises.limits import list_outdated
    from formcheck.exercises.registry import get_exercise
    from formcheck.report.wording import describe_outdated
    from formcheck.services.own_limits import exercise_for

    shipped = get_exercise(exercise_id)
    if history:
        print_limits_history(store.limits_history(exercise_id, client=client))
    else:
        print_limits(shipped, exercise_for(store, exercise_id, client))
        for item in store.limits_of(exercise_id, client=client):
            for check in list_outdated(shipped, item.changes):
                click.echo(describe_outdated(check))


@limits.command("set")
@options.exercise_argument
@click.argument("check")
@click.option("--limit", type=float, metavar="X", help="The limit: degrees, seconds, or a share such as 0.95 for 95 %.")
@click.option("--tolerance", type=float, metavar="X", help="How far beyond the limit still passes.")
@click.option("--cue", metavar="TEXT", help="What to tell the lifter when the limit is missed.")
@click.option(
    "--try", "trial", is_flag=True, help="Keep nothing; only say which findings of past reviews would change."
)
@_client
@options.with_store
def set_limit(exercise_id: str, check: str, trial: bool, client: str | None, store: "Store", **values: Any) -> None:
    """Set your own limit, tolerance or cue for one CHECK of EXERCISE."""
    given = {name: value for name, value in values.items() if value is not None}
    if not given:
        raise click.UsageError("Say what to set: --limit, --tolerance or --cue.")
    from formcheck.cli.printing_training import print_effects
    from formcheck.exercises.limits import drop_outdated, dump_limits, read_limits
    from formcheck.exercises.registry import get_exercise
    from formcheck.services.own_limits import find_limit_effects

    history = store.limits_history(exercise_id, client=client)
    shipped = get_exercise(exercise_id)
    checks = {item.id for item in shipped.checks}
    # A check that formcheck does not have any more takes its own limits with it, and so does one of another measure.
    held = drop_outdated(shipped, history[-1].changes) if history else {}
    plain = {key: one for key, one in dump_limits(held).items() if key in checks}
    plain[check] = {**plain.get(check, {}), **given}
    changes = read_limits(plain)
    effects = find_limit_effects(store, exercise_id, changes, client=client)
    if not trial:
        entry = store.set_limits(exercise_id, changes, created_at=datetime.now(UTC), client=client)
        click.echo(f"Kept as entry {entry.id}; formcheck limits restore goes back to an earlier one.")
    print_effects(effects, trial=trial)


@limits.command("reset")
@options.exercise_argument
@_client
@options.with_store
def reset_limits(exercise_id: str, client: str | None, store: "Store") -> None:
    """Go back to the shipped limits; your own stay in the history."""
    from formcheck.exercises.registry import get_exercise

    store.set_limits(get_exercise(exercise_id).id, {}, created_at=datetime.now(UTC), client=client)
    click.echo("The shipped limits are in force again.")


@limits.command("restore")
@click.argument("entry", type=options.ROW_ID)
@options.with_store
def restore_limits(entry: int, store: "Store") -> None:
    """Go back to the limits of an earlier ENTRY.

    `formcheck limits show EXERCISE --history` lists the entries.
    """
    restored = store.restore_limits(entry, created_at=datetime.now(UTC))
    click.echo(f"The limits of entry {entry} are in force again, as entry {restored.id}.")
