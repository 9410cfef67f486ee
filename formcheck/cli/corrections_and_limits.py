"""Commands that change how a set is judged: corrections by hand, and a coach's own limits."""

from datetime import UTC, datetime
from functools import partial

import click

from formcheck.cli import options
from formcheck.core.errors import UsageError


@click.command()
@options.number
@click.option("--move", type=click.IntRange(1), metavar="REP", help="The rep to move, with --start, --top or --end.")
@click.option("--start", "start_s", type=float, metavar="S", help="Where it begins, seconds of the clip.")
@click.option("--top", "top_s", type=float, metavar="S", help="Its top: where the working muscle is shortest.")
@click.option("--end", "end_s", type=float, metavar="S", help="Where it ends.")
@click.option("--add", type=options.Span(2, 3), metavar="START,END[,TOP]", help="Add a rep.")
@click.option("--delete", type=click.IntRange(1), metavar="REP", help="Delete a rep.")
@click.option("--leave-out", type=options.Span(), metavar="FROM,TO", help="This part of the clip is not of the set.")
@click.option("--exercise", "exercise_id", type=options.ExerciseId(), help="The exercise it really was.")
@click.option("--undo", is_flag=True, help="Take back the last correction.")
@options.store
def correct(
    number: int,
    move: int | None,
    start_s: float | None,
    top_s: float | None,
    end_s: float | None,
    add: tuple[float, ...] | None,
    delete: int | None,
    leave_out: tuple[float, float] | None,
    exercise_id: str | None,
    undo: bool,
    store: str | None,
) -> None:
    """Correct review NUMBER by hand, one step a call; all numbers follow, and the original stays.

    Without any option it lists the corrections made so far.
    """
    asked = [one is not None for one in (move, add, delete, leave_out, exercise_id)] + [undo]
    moments = (start_s, top_s, end_s)
    if sum(asked) > 1:
        raise click.UsageError("One correction a call, please.")
    if (move is None) != (moments == (None, None, None)):
        raise click.UsageError("--move REP needs --start, --top or --end, and they need --move.")
    from formcheck.cli.printing import print_review
    from formcheck.cli.printing_training import print_corrections
    from formcheck.cli.reviews import correct_command
    from formcheck.exercises.registry import get_exercise
    from formcheck.reps import edits as by_hand
    from formcheck.services.correction import correct as keep
    from formcheck.services.own_limits import exercise_for
    from formcheck.storage.data_folder import data_home

    now = datetime.now(UTC)
    with options.open_store(store) as keeper:
        if not any(asked):
            print_corrections(keeper.revisions_of(number), keeper.load_review(number).by_hand)
            return
        if undo:
            keeper.undo_revision(number, undone_at=now)
        else:
            edits, reps = keeper.edits_of(number), keeper.load_review(number).reps
            if move is not None:
                edits = by_hand.move_rep(edits, reps, move, start_s=start_s, top_s=top_s, end_s=end_s)
            elif add is not None:
                edits = by_hand.add_rep(edits, reps, *add)
            elif delete is not None:
                edits = by_hand.delete_rep(edits, reps, delete)
            elif leave_out is not None:
                edits = by_hand.leave_out(edits, *leave_out)
            elif exercise_id is not None:
                edits = by_hand.as_exercise(edits, get_exercise(exercise_id).id)
            keep(keeper, number, edits, data_home(), created_at=now)
        review = keeper.load_review(number)
        (row,) = keeper.list_reviews(review_id=number)
        exercise = None
        try:
            exercise = exercise_for(keeper, review.exercise.id, row.client_id)
        except UsageError as error:  # what was done is done
            click.echo(str(error), err=True)
        print_review(review, exercise, as_another=partial(correct_command, number, store), kept=True)


@click.group()
def limits() -> None:
    """A coach's own limits, tolerances and cues, for all clients or for one."""


_client = click.option("--client", metavar="NAME", help="For this client only; for all if not given.")


@limits.command("show")
@options.exercise_argument
@_client
@click.option("--history", is_flag=True, help="Every entry ever kept, with its number.")
@options.store
def show(exercise_id: str, client: str | None, history: bool, store: str | None) -> None:
    """Show the limits that hold, and which of them are your own."""
    from formcheck.cli.printing_training import print_limits, print_limits_history
    from formcheck.exercises.registry import get_exercise
    from formcheck.services.own_limits import exercise_for

    shipped = get_exercise(exercise_id)
    with options.open_store(store) as keeper:
        if history:
            print_limits_history(keeper.limits_history(exercise_id, client=client))
        else:
            print_limits(shipped, exercise_for(keeper, exercise_id, client))


@limits.command("set")
@options.exercise_argument
@click.argument("check")
@click.option("--limit", type=float, metavar="X", help="The limit: degrees, seconds, or a share such as 0.95 for 95 %.")
@click.option("--tolerance", type=float, metavar="X", help="What is let pass beyond it.")
@click.option("--cue", metavar="TEXT", help="What to tell the lifter when it is not kept.")
@click.option("--try", "trial", is_flag=True, help="Only tell which findings of past reviews would change.")
@_client
@options.store
def set_limit(
    exercise_id: str,
    check: str,
    limit: float | None,
    tolerance: float | None,
    cue: str | None,
    trial: bool,
    client: str | None,
    store: str | None,
) -> None:
    """Set a limit, tolerance or cue of your own for one CHECK of EXERCISE."""
    if limit is None and tolerance is None and cue is None:
        raise click.UsageError("Say what to set: --limit, --tolerance or --cue.")
    from formcheck.cli.printing_training import print_effects
    from formcheck.exercises.limits import plain_limits, read_limits
    from formcheck.exercises.registry import get_exercise
    from formcheck.services.own_limits import find_limit_effects

    given = {"limit": limit, "tolerance": tolerance, "cue": cue}
    with options.open_store(store) as keeper:
        held = keeper.limits_history(exercise_id, client=client)
        checks = {item.id for item in get_exercise(exercise_id).checks}
        # A check that formcheck does not have any more takes its own limits with it.
        plain = {key: one for key, one in plain_limits(held[-1].changes).items() if key in checks} if held else {}
        plain[check] = {**plain.get(check, {}), **{key: value for key, value in given.items() if value is not None}}
        changes = read_limits(plain)
        effects = find_limit_effects(keeper, exercise_id, changes, client=client)
        if not trial:
            kept = keeper.set_limits(exercise_id, changes, created_at=datetime.now(UTC), client=client)
            click.echo(f"Kept as entry {kept.id}; formcheck limits restore goes back to an earlier one.")
    print_effects(effects, trial=trial)


@limits.command("reset")
@options.exercise_argument
@_client
@options.store
def reset(exercise_id: str, client: str | None, store: str | None) -> None:
    """Let the shipped limits hold again; your own stay in the history."""
    from formcheck.exercises.registry import get_exercise

    with options.open_store(store) as keeper:
        keeper.set_limits(get_exercise(exercise_id).id, {}, created_at=datetime.now(UTC), client=client)
    click.echo("The shipped limits hold again.")


@limits.command("restore")
@click.argument("entry", type=click.IntRange(1, 2**62))
@options.store
def restore_limits(entry: int, store: str | None) -> None:
    """Let the limits of an earlier ENTRY hold again (formcheck limits show EXERCISE --history)."""

    with options.open_store(store) as keeper:
        kept = keeper.restore_limits(entry, created_at=datetime.now(UTC))
    click.echo(f"The limits of entry {entry} hold again, as entry {kept.id}.")
