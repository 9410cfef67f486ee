"""The command that reviews many clips."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from formcheck.cli import options

if TYPE_CHECKING:
    from formcheck.batch import Outcome, Summary
    from formcheck.batch.local import Runner
    from formcheck.batch.requests import State

_file = click.Path(path_type=Path)
_STATE_TEXTS: "dict[State, str]" = {
    "reviewed": "reviewed",
    "there": "already there",
    "again": "same clip again",
    "failed": "failed",
}


@click.command()
@click.argument("source", type=_file, metavar="FOLDER|LIST.csv")
@click.option(
    "--exercise",
    "exercise_id",
    type=options.ExerciseId(),
    default="auto",
    show_default=True,
    help="Where none is named.",
)
@click.option("--client", metavar="NAME", help="Whose sets they are, where the list does not say.")
@click.option("--view", default="auto", show_default=True, help="Where the camera stood, where the list does not say.")
@click.option("--session", type=options.Day(), metavar="DAY", help="The day, where the list does not say; else today.")
@click.option("--processes", type=click.IntRange(1, 256), metavar="N", help="Clips at once; one a core if not given.")
@click.option("--cluster", metavar="ADDRESS", help="Let the machines of a Dask cluster do it (docs/scale.md).")
@click.option("--landmarks", metavar="URL", help="Keep the body points found in clips (landmarks) there.")
@options.pose_model
@options.json_file
@options.store
def batch(
    source: Path,
    exercise_id: str,
    client: str | None,
    view: str,
    session: date | None,
    processes: int | None,
    cluster: str | None,
    landmarks: str | None,
    pose_model: Path | None,
    json_file: Path | None,
    store: str | None,
) -> None:
    """Review every clip of a FOLDER, or of a list: a table of comma-separated values.

    The list's first line names its columns: clip, and if wanted client, exercise, load, target reps, view, session,
    set. The exercise is an id, a file of your own named from the list's folder, or auto: then a clip is reviewed only
    as what it clearly shows. A clip that cannot be reviewed stops nothing. Run again, only what is missing is done.
    Exit code 0: every clip has its review; 1: some have not; 2: the list or the call is wrong.
    """
    if cluster is not None and processes is not None:
        raise click.UsageError("--processes is for this machine; a cluster has its own workers.")
    from formcheck.batch import BatchRequest, run
    from formcheck.batch.listing import checked_defaults, read_orders
    from formcheck.batch.remote_files import check_url
    from formcheck.core.atomic_write import write_output
    from formcheck.storage.data_folder import recordings_folder

    options.print_own_exercise_problems()
    defaults = checked_defaults(exercise_id, client, view, session)
    orders = read_orders(source, defaults)
    recordings = landmarks or str(recordings_folder())
    check_url(recordings)
    quiet = json_file == Path("-")
    if json_file is not None and not quiet:
        with write_output(json_file, trial=True):
            pass
    with options.open_store(store) as keeper, _outcome_printer(len(orders), quiet=quiet) as tell:
        summary = run(
            BatchRequest(orders, recordings, pose_model), keeper, _runner(processes, cluster), on_outcome=tell
        )
    if json_file is not None:
        _write_json(summary, json_file)
    _print_summary(summary, quiet=quiet)
    if not summary.all_good:
        sys.exit(1)


def _runner(processes: int | None, cluster: str | None) -> "Runner":
    if cluster is not None:
        from formcheck.batch.cluster import ClusterRunner

        return ClusterRunner(cluster)
    from formcheck.batch.local import ProcessRunner, count_cores

    return ProcessRunner(processes or count_cores())


@contextmanager
def _outcome_printer(count: int, *, quiet: bool) -> Iterator["Callable[[Outcome], None]"]:
    """Gives what prints one line a clip as it is done; with `quiet` to standard error."""
    told = 0

    def tell(outcome: "Outcome") -> None:
        nonlocal told
        told += 1
        click.echo(f"{told:>{len(str(count))}}/{count}  {_name(outcome)}: {_outcome_text(outcome)}", err=quiet)

    yield tell


def _name(outcome: "Outcome") -> str:
    name = outcome.order.name
    return "".join(c if c.isprintable() else "?" for c in name)


def _outcome_text(outcome: "Outcome") -> str:
    if outcome.state == "reviewed":
        return f"review {outcome.review_id}, {outcome.exercise_id}. {outcome.text}"
    if outcome.state == "again":
        return f"the same clip as earlier in the list, review {outcome.review_id}."
    if outcome.state == "there":
        return f"in the store already, review {outcome.review_id}, {outcome.exercise_id}."
    where = "" if outcome.order.line is None else f" (line {outcome.order.line})"
    return f"failed{where}: {outcome.text}"


def _print_summary(summary: "Summary", *, quiet: bool) -> None:
    from formcheck.report.wording import count, short_caution

    counts = summary.counts
    parts = [f"{counts[state]} {told}" for state, told in _STATE_TEXTS.items() if counts[state]]
    click.echo(f"\n{count(len(summary.outcomes), 'clip')}: {', '.join(parts)}.", err=quiet)
    doubtful = [outcome for outcome in summary.outcomes if outcome.problems and outcome.state == "reviewed"]
    if doubtful:
        click.echo("Look at these first:", err=quiet)
    for outcome in doubtful:
        click.echo(f"  {_name(outcome)}, review {outcome.review_id}: {_problem_text(outcome)}", err=quiet)
    failed = [outcome for outcome in summary.outcomes if outcome.state == "failed"]
    if failed and len(summary.outcomes) > len(failed):
        click.echo("Not reviewed:", err=quiet)
        for outcome in failed:
            click.echo(f"  {_name(outcome)}: {outcome.text}", err=quiet)
    click.echo(short_caution("formcheck cautions"), err=quiet)


def _problem_text(outcome: "Outcome") -> str:
    """The gravest problem in a sentence, and for another exercise the command that reviews it as that."""
    from formcheck.cli.reviews import correct_command
    from formcheck.report.problem_text import describe_problem

    first = outcome.problems[0]
    text = describe_problem(first)
    if first.code == "other-exercise" and outcome.review_id is not None:
        text += f" {correct_command(outcome.review_id, None, str(first.parameters['exercise']))}"
    return text


def _write_json(summary: "Summary", target: Path) -> None:
    from formcheck.batch.summary_json import encode_summary
    from formcheck.cli.reviews import write_text

    write_text(target, encode_summary(summary))
