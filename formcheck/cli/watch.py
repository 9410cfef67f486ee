"""The command that reviews every clip that arrives in a folder."""

import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from formcheck.cli import batch, options
from formcheck.cli.group import cli

if TYPE_CHECKING:
    from formcheck.batch.requests import Outcome

_LOOK_EVERY_S = 2.0


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
            click.echo(f"{batch.format_name(outcome)}: not clear which exercise; choose it on the page.")
        else:
            batch.print_outcome(outcome)

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
