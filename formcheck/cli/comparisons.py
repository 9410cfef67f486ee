"""Commands that look at more than one set: compare, progress; and at the store as a whole: backup, restore."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from formcheck.cli import options
from formcheck.cli.group import cli

if TYPE_CHECKING:
    from formcheck.storage import Store


@cli.command()
@click.argument("first", type=options.ROW_ID)
@click.argument("second", type=options.ROW_ID, required=False)
@options.report
@options.json_file
@options.with_store
def compare(first: int, second: int | None, report: Path | None, json_file: Path | None, store: "Store") -> None:
    """Compare the sets of two reviews, or early and late reps of one.

    Says what changed by more than chance and measurement error explain, each with its margin.
    """
    from formcheck.cli.printing_training import print_comparison
    from formcheck.formats.training_json import encode_comparison
    from formcheck.report.training_report import describe_people, is_same_session
    from formcheck.report.wording import format_day
    from formcheck.statistics.comparison import compare_early_with_late, compare_sets
    from formcheck.statistics.set_trends import analyse_set

    numbers = [first] if second is None else [first, second]
    reviews = [store.load_review(number) for number in numbers]
    names = [f"review {number}" for number in numbers]
    if len(reviews) == 1:
        found = compare_early_with_late(reviews[0])
    else:
        a, b = (store.list_reviews(review_id=number)[0] for number in numbers)
        together, people = is_same_session(a, b), describe_people(a, b)
        days = [
            f"set {row.set_number}" if together else f"set {row.set_number} of {format_day(row.session_on)}"
            for row in (a, b)
        ]
        if days[0] != days[1]:
            names = days
        found = compare_sets(reviews[0], reviews[1], labels=(names[0], names[1]), same_session=together)
        if people:
            found = replace(found, sentence=f"{people} {found.sentence}")
    trends = [analyse_set(review) for review in reviews]
    trend = trends[0] if second is None else None
    if report is not None:
        from formcheck.report.training_report import render_comparison

        text = render_comparison(reviews, names, found, trends)
        options.write_text(report, text, end="", quiet=json_file is not None)
    if not options.write_text(json_file, encode_comparison(tuple(zip(reviews, numbers, strict=True)), found, trend)):
        print_comparison(reviews, found, trend)


@cli.command()
@click.argument("client")
@options.exercise(required=True, help="The exercise to follow.")
@click.option("--set", "number", type=options.COUNT, default=1, show_default=True, help="The set to follow.")
@options.report
@options.json_file
@options.with_store
def progress(
    client: str, exercise_id: str, number: int, report: Path | None, json_file: Path | None, store: "Store"
) -> None:
    """Follow one exercise of a CLIENT over the sessions.

    Shows planned and done, range, load, what changed, and advice.
    """
    from formcheck.cli.printing_training import print_progress
    from formcheck.coaching.progress import compute_progress
    from formcheck.exercises.registry import get_exercise
    from formcheck.formats.training_json import encode_progress
    from formcheck.storage.sessions import noted_elsewhere, trained_sessions

    get_exercise(exercise_id)
    who = store.get_client(client)
    sessions = trained_sessions(store, who.id, exercise_id)
    found = compute_progress(sessions, noted_elsewhere(store, who.id, exercise_id), set_number=number)
    if report is not None:
        from formcheck.report.training_report import render_progress

        options.write_text(report, render_progress(found, who.name, sessions), end="", quiet=json_file is not None)
    if not options.write_text(json_file, encode_progress(found, who.name)):
        print_progress(found, who.name)


@cli.command()
@click.argument("target", type=options.FILE, metavar="FILE")
@options.with_store
def backup(target: Path, store: "Store") -> None:
    """Write everything in the store to one FILE.

    The store may be in use meanwhile. Clips and the body points found in them (landmarks) are files of their own and
    not part of it; the body points can be found again from the clips.
    """
    from formcheck.report.wording import count
    from formcheck.storage.backup import back_up

    click.echo(f"Written and checked: {target} ({count(back_up(store, target), 'review')}).")


@cli.command()
@click.argument("source", type=options.FILE, metavar="FILE")
@options.yes
@options.store
def restore(source: Path, yes: bool, store: str | None) -> None:
    """Replace the store by the backup FILE.

    What the store held before is kept in a backup beside it; a damaged store is kept as it is.
    """
    from formcheck.report.wording import count
    from formcheck.storage.backup import restore as restore_store
    from formcheck.storage.data_folder import default_store

    if not yes:
        click.confirm("Replace the store by this backup?", abort=True, err=True)
    restored, earlier = restore_store(store or default_store(), source, restored_at=datetime.now(UTC))
    click.echo(f"Restored: {count(restored, 'review')}.")
    if earlier is not None:
        click.echo(f"What was there before: {earlier}")
