"""Commands about clients: who they are, their plans, what they said, their data."""

from datetime import UTC, date, datetime
from pathlib import Path

import click

from formcheck.cli import options


@click.group()
def client() -> None:
    """Clients: add, list, show, change, export their data, delete it."""


@client.command("add")
@click.argument("name")
@click.option("--notes", metavar="TEXT", help="Anything worth knowing.")
@options.store
def add(name: str, notes: str | None, store: str | None) -> None:
    """Add the client NAME."""

    with options.open_store(store) as keeper:
        made = keeper.add_client(name, created_at=datetime.now(UTC), notes=notes)
    click.echo(f"{made.name} is a client now.")


@client.command("list")
@options.store
def list_all(store: str | None) -> None:
    """List all clients."""
    from formcheck.cli.printing_training import print_clients

    with options.open_store(store) as keeper:
        print_clients([(item, keeper.sessions(client=item.id)) for item in keeper.list_clients()])


@client.command("show")
@click.argument("name")
@options.store
def show(name: str, store: str | None) -> None:
    """Show a client's notes, plans and sessions."""
    from formcheck.cli.printing_training import print_client

    with options.open_store(store) as keeper:
        found = keeper.get_client(name)
        print_client(found, keeper.plan_history(found.id), keeper.sessions(client=found.id))


@client.command("change")
@click.argument("name")
@click.option("--name", "new_name", metavar="NAME", help="Another name; everything stays with the client.")
@click.option("--notes", metavar="TEXT", help='Other notes; "" clears them.')
@options.store
def change(name: str, new_name: str | None, notes: str | None, store: str | None) -> None:
    """Rename a client, or replace the notes."""
    if new_name is None and notes is None:
        raise click.UsageError("Say what to change: --name or --notes.")

    with options.open_store(store) as keeper:
        made = keeper.change_client(name, name=new_name, notes=notes)
    click.echo(f"{made.name} is changed.")


@client.command("export")
@click.argument("name")
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--clips/--no-clips", default=True, show_default=True, help="Put the clips in too.")
@click.option("--blur-faces", is_flag=True, help="Blur the lifter's head and other faces found.")
@options.store
def export(name: str, target: Path, clips: bool, blur_faces: bool, store: str | None) -> None:
    """Write everything kept of a client to the folder TARGET, or to TARGET.zip."""
    from formcheck.cli.progress import progress_bar
    from formcheck.report.wording import count
    from formcheck.services.export import export_client
    from formcheck.storage.data_folder import data_home

    with options.open_store(store) as keeper, progress_bar("Exporting") as shown:
        done = export_client(
            keeper,
            name,
            target,
            data_home(),
            exported_at=datetime.now(UTC),
            clips=clips,
            blur_faces=blur_faces,
            on_progress=shown,
        )
    for sentence in done.missing:
        click.echo(sentence, err=True)
    click.echo(f"Written: {target} ({count(done.reviews, 'review')}, {count(done.clips, 'clip')}).")


@client.command("delete")
@click.argument("name")
@options.yes
@options.store
def delete(name: str, yes: bool, store: str | None) -> None:
    """Delete a client with all reviews, body points found, notes, plans and limits, for good."""
    from formcheck.report.wording import count
    from formcheck.services.delete import delete_client_data, plan_deletion
    from formcheck.storage.data_folder import data_home

    with options.open_store(store) as keeper:
        asked = plan_deletion(keeper, name, data_home())
        what = f"{asked.client}, {count(asked.reviews, 'review')} and {count(asked.files, 'file')} of formcheck's"
        if not yes:
            click.confirm(f"Delete {what} for good?", abort=True, err=True)
        delete_client_data(keeper, name, data_home())
    click.echo(f"Deleted: {what}. Backups and exports made before still hold it; deleting them is up to you.")
    for path in asked.left_alone:
        click.echo(f"Left where it is, because it is your own: {path}")


# ---------------------------------------------------------------- plans


@click.group()
def plan() -> None:
    """Plans: what a client is to do, written like 11/9/7 @ 6/7/8 kg tempo 2-1-2-0."""


@plan.command("set")
@click.argument("name")
@options.exercise_argument
@click.argument("notation", metavar="PLAN")
@click.option("--from", "since", type=options.Day(), metavar="DAY", help="The first day it holds; today if not given.")
@click.option("--remark", metavar="TEXT", help="Why.")
@options.store
def set_plan(
    name: str, exercise_id: str, notation: str, since: date | None, remark: str | None, store: str | None
) -> None:
    """Plan EXERCISE for the client NAME; earlier plans stay in the history."""
    from formcheck.coaching.plan import parse_plan
    from formcheck.exercises.registry import get_exercise

    read, exercise = parse_plan(notation), get_exercise(exercise_id)
    with options.open_store(store) as keeper:
        kept = keeper.set_plan(name, exercise.id, read, created_at=datetime.now(UTC), since=since, remark=remark)
        who = keeper.get_client(kept.client_id).name
    click.echo(f"{who}, {exercise.name}, from {kept.since}: {kept.plan}")


@plan.command("end")
@click.argument("name")
@options.exercise_argument
@click.option(
    "--from", "since", type=options.Day(), metavar="DAY", help="The first day without it; today if not given."
)
@options.store
def end_plan(name: str, exercise_id: str, since: date | None, store: str | None) -> None:
    """Plan EXERCISE no longer."""

    with options.open_store(store) as keeper:
        kept = keeper.set_plan(name, exercise_id, None, created_at=datetime.now(UTC), since=since)
    click.echo(f"From {kept.since} nothing is planned for {exercise_id}.")


@plan.command("show")
@click.argument("name")
@click.argument("exercise_id", type=options.ExerciseId(), metavar="EXERCISE", required=False)
@options.store
def show_plans(name: str, exercise_id: str | None, store: str | None) -> None:
    """Show every plan of a client, the ones that were replaced too."""
    from formcheck.cli.printing_training import print_plans

    with options.open_store(store) as keeper:
        print_plans(keeper.plan_history(name, exercise_id))


# ---------------------------------------------------------------- about a set


@click.command()
@options.number
@click.option("--reserve", type=float, metavar="REPS", help="Reps in reserve: how many more could have been done.")
@click.option("--effort", type=float, metavar="0-10", help="How hard it was.")
@click.option("--pain/--no-pain", default=None, help="Whether anything hurt.")
@click.option("--where", metavar="TEXT", help="Where it hurt.")
@click.option("--sleep", type=float, metavar="HOURS", help="Sleep the night before.")
@click.option("--remark", metavar="TEXT", help="Anything else.")
@options.store
def note(
    number: int,
    reserve: float | None,
    effort: float | None,
    pain: bool | None,
    where: str | None,
    sleep: float | None,
    remark: str | None,
    store: str | None,
) -> None:
    """Keep what the lifter said about the set of review NUMBER, or show it."""
    from formcheck.cli.printing_training import note_text
    from formcheck.coaching.note import SetNote
    from formcheck.coaching.pain_history import mentions_pain

    given = SetNote(reserve, effort, True if where and pain is None else pain, where, sleep, remark)
    with options.open_store(store) as keeper:
        if given != SetNote():
            keeper.save_note(number, given, written_at=datetime.now(UTC))
        elif not keeper.list_reviews(review_id=number):
            keeper.load_review(number)  # says that there is none
        kept = keeper.note_of(number)
    click.echo(note_text(kept))
    if kept is not None and kept.pain is None and mentions_pain(kept):
        click.echo("The remark speaks of pain and counts as pain. If it was none, give the note again with --no-pain.")


@click.command()
@options.number
@click.option("--client", metavar="NAME", help="Whose set it was; a new name makes a new client.")
@click.option("--session", type=options.Day(), metavar="DAY", help="The day of the session.")
@click.option("--set", "set_number", type=click.IntRange(1, 1000), metavar="N", help="Which set of the session.")
@click.option("--variation", metavar="TEXT", help="Which variation of the exercise.")
@options.store
def assign(
    number: int,
    client: str | None,
    session: date | None,
    set_number: int | None,
    variation: str | None,
    store: str | None,
) -> None:
    """Say later whose set review NUMBER was, on which day, and which set."""
    if client is None and session is None and set_number is None and variation is None:
        raise click.UsageError("Say what to assign: --client, --session, --set or --variation.")
    from formcheck.report.wording import NO_CLIENT

    with options.open_store(store) as keeper:
        keeper.change_review(
            number,
            client=client,
            session_on=session,
            set_number=set_number,
            variation=variation,
            changed_at=datetime.now(UTC),
        )
        (row,) = keeper.list_reviews(review_id=number)
    click.echo(f"Review {number}: {row.client or NO_CLIENT}, {row.session_on}, set {row.set_number}.")
