"""The command that reviews every clip that arrives in a folder."""

import time
from pathlib import Path

import click

from formcheck.cli import batch, options
from formcheck.cli.group import cli

_LOOK_EVERY_S = 2.0


@cli.command()
@click.argument("folder", type=options.FILE)
@click.option("--client", metavar="NAME", required=True, help="Whose sets they are.")
@options.exercise(default="auto", show_default=True, help="Of every clip; auto: what it clearly shows.")
@options.pose_model
@options.store
def watch(folder: Path, client: str, exercise_id: str, pose_model: Path | None, store: str | None) -> None:
    """Review every clip that arrives in FOLDER, until Ctrl-C.

    Clips that lie there already are left alone, and so are links and the folders in it. A clip is taken once it has
    stopped growing, and stays where it is.
    """
    from formcheck.batch.local import ProcessRunner
    from formcheck.batch.requests import ClipRequest
    from formcheck.batch.run import BatchRequest, run
    from formcheck.batch.watched_folder import WatchedFolder
    from formcheck.report.wording import describe_caution
    from formcheck.storage.clients import client_name
    from formcheck.storage.data_folder import recordings_folder

    options.print_own_exercise_problems()
    name, watched = client_name(client), WatchedFolder(folder)
    with options.open_store(store) as opened:
        opened.check_writable()
        click.echo(f"Every clip that arrives in {folder} is reviewed as a set of {name}. Ctrl-C ends this.")
        click.echo(describe_caution("formcheck cautions"))
        try:
            while True:
                for path in watched.take_arrived():
                    request = ClipRequest(str(path), exercise_id, name)
                    wanted = BatchRequest([request], str(recordings_folder()), pose_model)
                    run(wanted, opened, ProcessRunner(1), on_outcome=batch.print_outcome)
                time.sleep(_LOOK_EVERY_S)
        except KeyboardInterrupt:
            click.echo("\nNo longer watched.")
