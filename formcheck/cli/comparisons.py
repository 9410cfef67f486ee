"""Commands that look at more than one set: compare, progress; and at the store as a whole: backup, restore."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import click

from formcheck.cli import options


@click.command()
@click.argument("first", type=click.IntRange(1, 2**62))
@click.argument("second", type=click.IntRange(1, 2**62), required=False)
@click.option(
    "--report", type=click.Path(path_type=Path), metavar="FILE.html", help="Write a report that needs no network."
)
@options.json_file
@options.store
def compare(first: int, second: int | None, report: Path | None, json_file: Path | None, store: str | None) -> None:
    """Compare the sets of two reviews, or the early and late reps of one.

    Says what changed beyond chance and beyond what the measurement can blur, each with its margin.
    """
    from formcheck.cli.printing_training import print_comparison
    from formcheck.cli.reviews import write_text
    from formcheck.formats.training_json import encode_comparison
    from formcheck.report.client_match import people_note, same_session
    from formcheck.statistics.comparison import compare_early_with_late, compare_sets
    from formcheck.statistics.set_trends import analyse_set_course

    with options.open_store(store) as keeper:
        rows = {row.id: row for number in (first, second or first) for row in keeper.list_reviews(review_id=number)}
        reviews = [keeper.load_review(number) for number in (first, *([] if second is None else [second]))]
    names, people = [f"review {first}"], ""
    if second is None:
        found = compare_early_with_late(reviews[0])
    else:
        a, b = rows[first], rows[second]
        together, people = same_session(a, b), people_note(a, b)
        names = [f"set {row.set_number}" if together else f"set {row.set_number} of {row.session_on}" for row in (a, b)]
        if names[0] == names[1]:
            names = [f"review {first}", f"review {second}"]
        found = compare_sets(reviews[0], reviews[1], labels=(names[0], names[1]), same_session=together)
    if people:
        found = replace(found, sentence=f"{people} {found.sentence}")
    courses = [analyse_set_course(review) for review in reviews]
    course = courses[0] if second is None else None
    if report is not None:
        from formcheck.report.comparison import render_comparison

        _write_report(report, render_comparison(reviews, names, found, courses), quiet=json_file is not None)
    sets = tuple(zip(reviews, (first, second), strict=False))
    if not write_text(json_file, encode_comparison(sets, found, course)):
        print_comparison(reviews, found, course)


@click.command()
@click.argument("client")
@click.option("--exercise", "exercise_id", type=options.ExerciseId(), required=True, help="The exercise to follow.")
@click.option("--set", "number", type=click.IntRange(1, 1000), default=1, show_default=True, help="The set to follow.")
@click.option(
    "--report", type=click.Path(path_type=Path), metavar="FILE.html", help="Write a report that needs no network."
)
@options.json_file
@options.store
def progress(
    client: str, exercise_id: str, number: int, report: Path | None, json_file: Path | None, store: str | None
) -> None:
    """Follow one exercise of a CLIENT over the sessions: plan and done, range, load, what changed, advice."""
    from formcheck.cli.printing_training import print_progress
    from formcheck.cli.reviews import write_text
    from formcheck.coaching.progress import compute_progress
    from formcheck.exercises.registry import get_exercise
    from formcheck.formats.training_json import encode_progress
    from formcheck.storage.sessions import noted_elsewhere, trained_sessions

    get_exercise(exercise_id)
    with options.open_store(store) as keeper:
        who = keeper.get_client(client)
        sessions = trained_sessions(keeper, who.id, exercise_id)
        found = compute_progress(sessions, noted_elsewhere(keeper, who.id, exercise_id), set_number=number)
    if report is not None:
        from formcheck.report.progress import render_progress

        _write_report(report, render_progress(found, who.name), quiet=json_file is not None)
    if not write_text(json_file, encode_progress(found, who.name)):
        print_progress(found, who.name)


@click.command()
@click.argument("target", type=click.Path(path_type=Path), metavar="FILE")
@options.store
def backup(target: Path, store: str | None) -> None:
    """Write everything in the store to one FILE; may be done while it is in use.

    Clips and the body points found in them (landmarks) are files of their own and are not in it; the body points can be
    found again from the clips.
    """
    from formcheck.report.wording import count
    from formcheck.storage.backup import back_up

    with options.open_store(store) as keeper:
        found = back_up(keeper, target)
    click.echo(f"Written and checked: {target} ({count(found, 'review')}).")


@click.command()
@click.argument("source", type=click.Path(path_type=Path), metavar="FILE")
@options.yes
@options.store
def restore(source: Path, yes: bool, store: str | None) -> None:
    """Put the backup FILE in the place of the store; what the store held is kept in a backup beside it."""
    from formcheck.report.wording import count
    from formcheck.storage.backup import restore as put_back
    from formcheck.storage.data_folder import default_store

    where = store or default_store()
    if not yes:
        click.confirm("Put the backup in the place of the store?", abort=True, err=True)
    found, kept = put_back(where, source, restored_at=datetime.now(UTC))
    click.echo(f"Restored: {count(found, 'review')}.")
    if kept is not None:
        click.echo(f"What was there before: {kept}")


def _write_report(target: Path, text: str, *, quiet: bool) -> None:
    """`quiet`: say so beside the standard output, where JSON may be going."""
    from formcheck.core.atomic_write import write_output

    with write_output(target) as part:
        part.write_text(text, encoding="utf-8")
    click.echo(f"Written: {target}", err=quiet)
