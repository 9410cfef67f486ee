"""The commands that review many clips: those of a folder or list, and those that arrive in a folder."""

import itertools
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from formcheck.cli import options
from formcheck.cli.group import cli

if TYPE_CHECKING:
    from formcheck.batch.local import Runner
    from formcheck.batch.requests import Outcome, State, Summary

_STATE_TEXTS: "dict[State, str]" = {
    "reviewed": "reviewed",
    "there": "already there",
    "again": "same clip again",
    "failed": "failed",
}

_LOOK_EVERY_S = 2.0
"""So often `watch` looks into its folder."""


@cli.command()
@click.argument("source", type=options.FILE, metavar="FOLDER|LIST.csv")
@options.exercise(default="auto", show_default=True, help="The exercise, where the list names none.")
@click.option("--client", metavar="NAME", help="The client, where the list does not say.")
@click.option("--view", default="auto", show_default=True, help="Where the camera stood, where the list does not say.")
@options.session(help="The day of the session, where the list does not say; today if not given.")
@click.option(
    "--processes",
    type=click.IntRange(1, 256),
    metavar="N",
    help="How many clips at once; one per processor core if not given.",
)
@click.option("--cluster", metavar="ADDRESS", help="Use the machines of a Dask cluster (docs/scale.md).")
@click.option(
    "--landmarks", metavar="URL", help="Keep the body points found in clips (landmarks) in this folder or at this URL."
)
@options.every_picture
@options.pose_model
@options.json_file
@options.store
def batch(
    source: Path,
    session_on: date | None,
    processes: int | None,
    cluster: str | None,
    landmarks: str | None,
    every_picture: bool,
    pose_model: Path | None,
    json_file: Path | None,
    store: str | None,
    **defaults: str | None,
) -> None:
    """Review every clip of a FOLDER or of a list.

    A list is a table of comma-separated values. Its first line names its columns: clip, and if wanted client, exercise,
    load, target reps, view, session, set. The exercise is an id, a file of your own named from the list's folder, or
    auto: then a clip is reviewed only as what it clearly shows. A clip that cannot be reviewed stops nothing. Run
    again, only what is missing is done. Exit code 0: every clip has its review; 1: some have not; 2: the list or the
    call is wrong.
    """
    if cluster is not None and processes is not None:
        raise click.UsageError("--processes is for this machine; a cluster has its own workers.")
    from formcheck.batch.listing import parse_defaults, read_requests
    from formcheck.batch.remote_files import check_url
    from formcheck.batch.run import BatchRequest, run
    from formcheck.core.atomic_write import write_output
    from formcheck.storage.data_folder import recordings_folder

    options.print_own_exercise_problems()
    requests = read_requests(source, parse_defaults(session_on, **defaults))
    recordings = landmarks or str(recordings_folder())
    check_url(recordings)
    quiet = json_file == options.STDOUT
    if json_file is not None and not quiet:
        with write_output(json_file, trial=True):
            pass
    wanted = BatchRequest(requests, recordings, pose_model, every_picture=every_picture)
    runner = _make_runner(processes, cluster)
    with options.open_store(store) as opened:
        summary = run(wanted, opened, runner, on_outcome=_outcome_printer(len(requests), quiet=quiet))
    options.write_text(json_file, summary.to_json())
    _print_summary(summary, quiet=quiet)
    if not summary.all_good:
        sys.exit(1)


def _make_runner(processes: int | None, cluster: str | None) -> "Runner":
    if cluster is not None:
        from formcheck.batch.cluster import ClusterRunner

        return ClusterRunner(cluster)
    from formcheck.batch.local import ProcessRunner
    from formcheck.sandbox.sandboxed_tracking import count_cores

    return ProcessRunner(processes or count_cores())


def _outcome_printer(total: int, *, quiet: bool) -> "Callable[[Outcome], None]":
    """Prints one line a clip as it is done; with `quiet` to standard error."""
    numbers = itertools.count(1)

    return lambda outcome: print_outcome(outcome, f"{next(numbers):>{len(str(total))}}/{total}  ", quiet=quiet)


def print_outcome(outcome: "Outcome", number: str = "", *, quiet: bool = False) -> None:
    """Print one line on a clip, after its number."""
    click.echo(f"{number}{format_name(outcome)}: {_describe_outcome(outcome)}", err=quiet)


def format_name(outcome: "Outcome") -> str:
    """The name of its clip, as it can be printed."""
    return "".join(c if c.isprintable() else "?" for c in outcome.request.name)


def _describe_outcome(outcome: "Outcome") -> str:
    if outcome.state == "reviewed":
        return f"review {outcome.review_id}, {outcome.exercise_id}. {outcome.text}"
    if outcome.state == "again":
        return f"the same clip as earlier in the list, review {outcome.review_id}."
    if outcome.state == "there":
        return f"in the store already, review {outcome.review_id}, {outcome.exercise_id}."
    where = "" if outcome.request.line is None else f" (line {outcome.request.line})"
    return f"failed{where}: {outcome.text}"


def _print_summary(summary: "Summary", *, quiet: bool) -> None:
    from formcheck.report.wording import count, describe_caution

    parts = [f"{summary.counts[state]} {text}" for state, text in _STATE_TEXTS.items() if summary.counts[state]]
    lines = [f"\n{count(len(summary.outcomes), 'clip')}: {', '.join(parts)}."]
    doubtful = [outcome for outcome in summary.outcomes if outcome.problems and outcome.state == "reviewed"]
    if doubtful:
        lines.append("Look at these first:")
        lines += [f"  {format_name(one)}, review {one.review_id}: {_describe_problem(one)}" for one in doubtful]
    failed = [outcome for outcome in summary.outcomes if outcome.state == "failed"]
    if 0 < len(failed) < len(summary.outcomes):
        lines.append("Not reviewed:")
        lines += [f"  {format_name(outcome)}: {outcome.text}" for outcome in failed]
    click.echo("\n".join([*lines, describe_caution("formcheck cautions")]), err=quiet)


def _describe_problem(outcome: "Outcome") -> str:
    """The gravest problem in a sentence, and for another exercise the command that reviews it as that."""
    from formcheck.cli.reviews import format_correct_command
    from formcheck.report.problem_text import describe_problem

    first = outcome.problems[0]
    text = describe_problem(first)
    if first.code == "other-exercise" and outcome.review_id is not None:
        text += f" {format_correct_command(outcome.review_id, str(first.parameters['exercise']))}"
    return text


@cli.command()
@click.argument("folder", type=options.FILE)
@click.option("--client", metavar="NAME", required=True, help="The client whose sets they are.")
@options.exercise(default="auto", show_default=True, help="The exercise in every clip; auto: what each clearly shows.")
@options.pose_model
@options.store
def watch(folder: Path, client: str, exercise_id: str, pose_model: Path | None, store: str | None) -> None:
    """Review every clip that arrives in FOLDER, until Ctrl-C.

    Clips already there are left alone, and so are links and the folders in it. A clip is taken once it has stopped
    growing, and stays where it is. One that does not clearly show an exercise waits on the page's sheet of clips for
    you to choose it.
    """
    from formcheck.batch.growing_files import WatchedFolder
    from formcheck.batch.local import ProcessRunner
    from formcheck.batch.requests import ClipRequest
    from formcheck.batch.run import BatchRequest, run
    from formcheck.report.wording import describe_caution
    from formcheck.storage.clients import clean_client_name
    from formcheck.storage.data_folder import default_store, recordings_folder

    options.print_own_exercise_problems()
    name, watched = clean_client_name(client), WatchedFolder(folder)

    def tell(outcome: "Outcome") -> None:
        if outcome.unclear and store in (None, default_store()):
            _put_on_sheet(Path(outcome.request.clip).absolute(), name)
            click.echo(f"{format_name(outcome)}: not clear which exercise; choose it on the page.")
        else:
            print_outcome(outcome)

    with options.open_store(store) as opened:
        opened.check_writable()
        click.echo(f"Every clip that arrives in {folder} is reviewed as a set of {name}. Ctrl-C stops this.")
        click.echo(describe_caution("formcheck cautions"))
        try:
            while True:
                for path in watched.take_arrived():
                    request = ClipRequest(str(path), exercise_id, name)
                    wanted = BatchRequest([request], str(recordings_folder()), pose_model)
                    run(wanted, opened, ProcessRunner(1), on_outcome=tell)
                time.sleep(_LOOK_EVERY_S)
        except KeyboardInterrupt:
            click.echo("\nThe folder is no longer watched.")


def _put_on_sheet(clip: Path, client: str) -> None:
    """A row on the page's sheet of clips that asks for the exercise; the clip stays where it is."""
    from formcheck.jobs.queue import JobRequest, put_away, start_job

    put_away([start_job(JobRequest(str(clip), clip.name, "", "auto", kind="look", client=client))], away=False)
