"""Commands about clients: who they are, their plans, their notes on sets, their data."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from formcheck.cli import options
from formcheck.cli.group import cli

if TYPE_CHECKING:
    from formcheck.storage import Store


@cli.group()
def client() -> None:
    """Clients: add, list, show, change, export their data, delete it."""


@client.command("add")
@click.argument("name")
@click.option("--notes", metavar="TEXT", help="Anything worth knowing.")
@options.with_store
def add_client(name: str, notes: str | None, store: "Store") -> None:
    """Add the client NAME."""
    made = store.add_client(name, created_at=datetime.now(UTC), notes=notes)
    click.echo(f"{made.name} is a client now.")


@client.command("list")
@options.with_store
def list_clients(store: "Store") -> None:
    """List all clients."""
    from formcheck.cli.printing_training import print_clients

    print_clients([(item, store.sessions(client=item.id)) for item in store.list_clients()])


@client.command("show")
@click.argument("name")
@options.with_store
def show_client(name: str, store: "Store") -> None:
    """Show a client's notes, plans and sessions."""
    from formcheck.cli.printing_training import print_client

    found = store.get_client(name)
    references = store.list_reference_reps(client=found.id)
    print_client(found, store.plan_history(found.id), store.sessions(client=found.id), references)


@client.command("change")
@click.argument("name")
@click.option("--name", "new_name", metavar="NAME", help="Another name; everything stays with the client.")
@click.option("--notes", metavar="TEXT", help='Other notes; "" clears them.')
@options.with_store
def change_client(name: str, new_name: str | None, notes: str | None, store: "Store") -> None:
    """Rename a client, or replace the notes."""
    if new_name is None and notes is None:
        raise click.UsageError("Say what to change: --name or --notes.")
    made = store.change_client(name, name=new_name, notes=notes)
    click.echo(f"{made.name} is changed.")


@client.command("export")
@click.argument("name")
@click.argument("target", type=options.FILE)
@click.option("--clips/--no-clips", default=True, show_default=True, help="Put the clips in too.")
@options.blur_faces
@options.with_store
def export(name: str, target: Path, store: "Store", **choices: bool) -> None:
    """Write everything kept about a client to a folder or .zip TARGET."""
    from formcheck.report.wording import count
    from formcheck.services.export import export_client
    from formcheck.storage.data_folder import data_home

    now = datetime.now(UTC)
    with options.progress_bar("Exporting") as shown:
        done = export_client(store, name, target, data_home(), exported_at=now, on_progress=shown, **choices)
    for sentence in done.missing:
        click.echo(sentence, err=True)
    click.echo(f"Written: {target} ({count(done.reviews, 'review')}, {count(done.clips, 'clip')}).")


@client.command("delete")
@click.argument("name")
@options.yes
@options.with_store
def delete_client(name: str, yes: bool, store: "Store") -> None:
    """Delete a client and everything kept about them, for good.

    That means all reviews, body points found in clips, notes, plans and limits.
    """
    from formcheck.report.wording import count
    from formcheck.services.delete import delete_client_data, plan_deletion
    from formcheck.storage.data_folder import data_home

    planned = plan_deletion(store, name, data_home())
    what = f"{planned.client}, {count(planned.reviews, 'review')} and {count(planned.files, 'file')} of formcheck's"
    if not yes:
        click.confirm(f"Delete {what} for good?", abort=True, err=True)
    delete_client_data(store, name, data_home())
    click.echo(f"Deleted: {what}. Backups and exports made before still hold it; deleting them is up to you.")
    for path in planned.left_alone:
        click.echo(f"Left where it is, because it is your own: {path}")


# ---------------------------------------------------------------- plans


@cli.group()
def plan() -> None:
    """Plans: what a client should do.

    A plan is written like 11/9/7 @ 6/7/8 kg tempo 2-1-2-0, or 9 each side @ 6 kg.
    """


def _since(what: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    text = f"The first day {what}; today if not given."
    return click.option("--from", "since", type=options.parse_day, metavar="DAY", help=text)


@plan.command("set")
@click.argument("name")
@options.exercise_argument
@click.argument("notation", metavar="PLAN")
@_since("it holds")
@click.option("--remark", metavar="TEXT", help="Why.")
@options.with_store
def set_plan(name: str, exercise_id: str, notation: str, store: "Store", **details: Any) -> None:
    """Plan EXERCISE for the client NAME; earlier plans stay."""
    from formcheck.coaching.plan import parse_plan
    from formcheck.core.vocabulary.numbers import format_day
    from formcheck.exercises.registry import get_exercise

    exercise = get_exercise(exercise_id)
    stored = store.set_plan(name, exercise.id, parse_plan(notation), created_at=datetime.now(UTC), **details)
    click.echo(
        f"{store.get_client(stored.client_id).name}, {exercise.name}, from {format_day(stored.since)}: {stored.plan}"
    )


@plan.command("end")
@click.argument("name")
@options.exercise_argument
@_since("without it")
@options.with_store
def end_plan(name: str, exercise_id: str, since: date | None, store: "Store") -> None:
    """End the plan for EXERCISE."""
    from formcheck.core.vocabulary.numbers import format_day

    stored = store.set_plan(name, exercise_id, None, created_at=datetime.now(UTC), since=since)
    click.echo(f"From {format_day(stored.since)} nothing is planned for {exercise_id}.")


@plan.command("show")
@click.argument("name")
@click.argument("exercise_id", type=options.parse_exercise_id, metavar="EXERCISE", required=False)
@options.with_store
def show_plans(name: str, exercise_id: str | None, store: "Store") -> None:
    """Show every plan of a client, replaced ones too."""
    from formcheck.cli.printing_training import print_plans

    print_plans(store.plan_history(name, exercise_id))


# ---------------------------------------------------------------- about a set


@cli.command()
@options.number
@click.option(
    "--reserve",
    "reps_in_reserve",
    type=float,
    metavar="REPS",
    help="Reps in reserve: how many more could have been done.",
)
@click.option("--effort", type=float, metavar="0-10", help="How hard it was.")
@click.option("--pain/--no-pain", default=None, help="Whether anything hurt.")
@click.option("--where", "pain_where", metavar="TEXT", help="Where it hurt.")
@click.option("--sleep", "sleep_h", type=float, metavar="HOURS", help="Sleep the night before.")
@click.option("--remark", metavar="TEXT", help="Anything else.")
@options.with_store
def note(number: int, store: "Store", **given: Any) -> None:
    """Keep or show the lifter's note on the set of review NUMBER."""
    from formcheck.cli.printing_training import print_note
    from formcheck.coaching.note import SetNote
    from formcheck.coaching.pain_history import mentions_pain

    if given["pain_where"] and given["pain"] is None:
        given["pain"] = True
    if (written := SetNote(**given)) != SetNote():
        store.save_note(number, written, written_at=datetime.now(UTC))
    elif not store.list_reviews(review_id=number):
        store.load_review(number)  # raises that there is none
    stored = store.note_of(number)
    print_note(stored)
    if stored is not None and stored.pain is None and mentions_pain(stored):
        click.echo("The remark mentions pain and counts as pain. If nothing hurt, give the note again with --no-pain.")


@cli.command()
@options.number
@click.option("--client", metavar="NAME", help="The client; a new name makes a new client.")
@options.session(help="The day of the session.")
@options.set_number
@click.option("--variation", metavar="TEXT", help="Which variation of the exercise.")
@options.with_store
def assign(number: int, store: "Store", **changes: Any) -> None:
    """Set the client, day and set number of review NUMBER."""
    if all(value is None for value in changes.values()):
        raise click.UsageError("Say what to assign: --client, --session, --set or --variation.")
    from formcheck.report.wording import NO_CLIENT, format_day

    store.change_review(number, **changes, changed_at=datetime.now(UTC))
    (row,) = store.list_reviews(review_id=number)
    click.echo(f"Review {number}: {row.client or NO_CLIENT}, {format_day(row.session_on)}, set {row.set_number}.")
