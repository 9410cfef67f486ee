"""The command line. Only click is imported here, so that ``--help`` answers at once; each command imports its own."""

import math
import signal
import sys
from datetime import date
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, cast

import click

import formcheck
from formcheck.cli import batch, clients, comparisons, corrections_and_limits, options, serve
from formcheck.cli.errors import SentenceGroup
from formcheck.core.private_files import keep_new_files_private
from formcheck.exercises import own_files

if TYPE_CHECKING:
    from formcheck.core.model import ViewHint

VIEWS = ("auto", "front", "back", "side", "left", "right", "oblique")
_STDOUT = Path("-")
_STOOD = "Where the camera stood, seen from the lifter (oblique: between front and side); auto finds it out."


def _kilograms(_ctx: click.Context, _param: click.Parameter, value: float | None) -> float | None:
    if value is not None and not (math.isfinite(value) and 0 <= value <= 2000):
        raise click.BadParameter("a load is between 0 and 2000 kg.")
    return value


def _own_exercises_folder() -> Path:
    from formcheck.storage.data_folder import own_exercises_folder

    return own_exercises_folder()


_file = click.Path(path_type=Path)


@click.group(cls=SentenceGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(formcheck.__version__, prog_name="formcheck", message="%(prog)s %(version)s")
@click.pass_context
def cli(context: click.Context) -> None:
    """Review a recorded strength-training set, rep by rep.

    formcheck measures joint angles, range of motion and tempo in a clip, each with its margin of error, and says
    what was met, what was not, and what cannot be told from this camera. It is advisory only and never a diagnosis.
    """
    own_files.use_folder(_own_exercises_folder)
    context.with_resource(own_files.forget_added_files())


@cli.command()
@click.argument("clip", type=_file)
@click.option(
    "--exercise",
    "exercise_id",
    type=options.ExerciseId(),
    help="The exercise (see formcheck exercises), a file of your own, or auto.",
)
@click.option("--with", "second", type=_file, metavar="CLIP", help="The same set, filmed by a second camera.")
@click.option("--variation", metavar="ID", help="A variation of it (see formcheck show EXERCISE).")
@click.option("--view", type=click.Choice(VIEWS), default="auto", show_default=True, help=_STOOD)
@click.option("--with-view", type=click.Choice(VIEWS), default="auto", help="Where the second camera stood.")
@click.option("--client", metavar="NAME", help="Whose set it is: load and reps are taken from the client's plan.")
@click.option("--session", type=options.Day(), metavar="DAY", help="The day of the session; today if not given.")
@click.option("--set", "set_number", type=click.IntRange(1, 1000), metavar="N", help="Which set of the session.")
@click.option("--load", "load_kg", type=float, metavar="KG", callback=_kilograms, help="The load in kilograms.")
@click.option("--target-reps", type=click.IntRange(1, 1000), metavar="N", help="How many reps were planned.")
@click.option(
    "--json", "json_file", type=_file, metavar="FILE", help="Write the numbers as JSON, for programs (-: screen)."
)
@click.option("--report", type=_file, metavar="FILE.html", help="Write a report for the browser; it needs no network.")
@click.option("--pdf", type=_file, metavar="FILE.pdf", help="Write the same report for paper.")
@click.option("--overlay", type=_file, metavar="FILE.mp4", help="Write the clip with the skeleton drawn in.")
@click.option("--blur-faces", is_flag=True, help="Blur the lifter's head and other faces found.")
@click.option("--save/--no-save", default=True, show_default=True, help="Keep the review in the history.")
@options.pose_model
@options.store
def review(
    clip: Path,
    exercise_id: str | None,
    second: Path | None,
    variation: str | None,
    view: str,
    with_view: str,
    client: str | None,
    session: date | None,
    set_number: int | None,
    load_kg: float | None,
    target_reps: int | None,
    json_file: Path | None,
    report: Path | None,
    pdf: Path | None,
    overlay: Path | None,
    blur_faces: bool,
    save: bool,
    pose_model: Path | None,
    store: str | None,
) -> None:
    """Review one set from one clip, or from two filmed at once."""
    if store and not save:
        raise click.UsageError("--store and --no-save contradict each other.")
    if not save and (client or session or set_number):
        raise click.UsageError("--client, --session and --set are of no use with --no-save.")
    if blur_faces and not (report or pdf or overlay):
        raise click.UsageError("--blur-faces needs something to write: --report, --pdf or --overlay.")
    if second is None and with_view != "auto":
        raise click.UsageError("--with-view needs --with.")
    from formcheck.cli import exercise_choice, reviews

    exercise_id = exercise_choice.choose_exercise(clip, exercise_id, pose_model)
    reviews.review(
        reviews.ReviewRequest(
            clip=clip,
            second=second,
            second_view=cast("ViewHint", with_view),
            exercise_id=exercise_id if variation is None else f"{exercise_id}/{variation}",
            view=cast("ViewHint", view),
            load_kg=load_kg,
            target_reps=target_reps,
            pose_model=pose_model,
            client=client,
            session_on=session,
            set_number=set_number,
        ),
        json_file=None if json_file == _STDOUT else json_file,
        json_to_stdout=json_file == _STDOUT,
        report=report,
        pdf=pdf,
        overlay=overlay,
        blur_faces=blur_faces,
        save=save,
        store=store,
    )


@cli.command()
@click.argument("clip", type=_file)
@click.option(
    "--exercise",
    "own",
    type=options.ExerciseId(),
    multiple=True,
    help="A file of your own to choose from as well; may be given several times.",
)
@options.pose_model
def suggest(clip: Path, own: tuple[str, ...], pose_model: Path | None) -> None:  # known once it is read
    """Say which exercise a clip probably shows, and from where."""
    from formcheck.cli import exercise_choice

    exercise_choice.suggest(clip, pose_model)


@cli.command()
def exercises() -> None:
    """List the exercises formcheck knows."""
    from formcheck.cli.printing import print_exercises
    from formcheck.exercises.registry import load_exercises

    options.print_own_exercise_problems()
    print_exercises(list(load_exercises().values()))


@cli.command()
def cautions() -> None:
    """Show every caution in full: please read before you train."""
    from formcheck.cli.printing import print_cautions
    from formcheck.exercises.registry import load_exercises

    print_cautions(list(load_exercises().values()))


@cli.command()
@options.exercise_argument
def show(exercise_id: str) -> None:
    """Explain an exercise: measures, camera side, limits, sources, cautions."""
    from formcheck.cli.printing import print_exercise
    from formcheck.exercises.registry import get_exercise

    print_exercise(get_exercise(exercise_id))


@cli.command()
@click.argument("number", type=click.IntRange(1, 2**62), required=False)
@click.option("--exercise", "exercise_id", type=options.ExerciseId(), help="Only reviews of this exercise.")
@click.option("--limit", type=click.IntRange(1, 10**6), default=20, show_default=True, help="How many to list.")
@click.option("--json", "json_file", type=_file, metavar="FILE", help="Write review NUMBER for programs: JSON.")
@click.option("--csv", "csv_file", type=_file, metavar="FILE", help="Write its numbers for a spreadsheet: CSV.")
@click.option("--client", metavar="NAME", help="Only reviews of this client.")
@click.option("--delete", is_flag=True, help="Delete review NUMBER for good, with what only it needs.")
@click.option("--check", is_flag=True, help="Read the whole store once and tell whether it is sound.")
@options.store
def history(
    number: int | None,
    exercise_id: str | None,
    limit: int,
    json_file: Path | None,
    csv_file: Path | None,
    client: str | None,
    delete: bool,
    check: bool,
    store: str | None,
) -> None:
    """List the stored reviews, or show review NUMBER again."""
    if number is None and (json_file or csv_file or delete):
        raise click.UsageError("--json, --csv and --delete need the NUMBER of a review.")
    of_list = exercise_id is not None or client is not None
    if sum((json_file is not None, csv_file is not None, delete, check, of_list)) > 1 or (
        number and (of_list or check)
    ):
        raise click.UsageError("These options do not go together.")
    from formcheck.cli import reviews

    if check:
        reviews.check_store(store)
    elif number is None:
        reviews.list_history(store, exercise_id, limit, client)
    elif delete:
        reviews.delete(store, number)
    elif csv_file is not None:
        reviews.write_table(store, number, csv_file)
    else:
        reviews.print_stored_review(store, number, json_file, to_stdout=json_file == _STDOUT)


@cli.command()
@click.option(
    "--clips", type=_file, metavar="DIR", help="Other clips, each with a .truth.json that names its exercise."
)
@options.pose_model
@options.store
def demo(clips: Path | None, pose_model: Path | None, store: str | None) -> None:
    """Put an invented client's six weeks and the shipped clips into the store; what is there is skipped.

    With --clips only the clips of that folder are reviewed.
    """
    from formcheck.cli import reviews

    reviews.demo(clips, pose_model, store)


for _command in (
    batch.batch,
    clients.client,
    clients.plan,
    clients.note,
    clients.assign,
    corrections_and_limits.correct,
    corrections_and_limits.limits,
):
    cli.add_command(_command)
for _command in (
    comparisons.compare,
    comparisons.progress,
    comparisons.backup,
    comparisons.restore,
    serve.password,
    serve.serve,
):
    cli.add_command(_command)


def main() -> None:
    """The ``formcheck`` command."""
    signal.signal(signal.SIGTERM, _terminated)
    keep_new_files_private()
    cli(prog_name="formcheck")


def _terminated(_signal: int, _frame: FrameType | None) -> None:
    # As an exception, so that half-written files are removed on the way out.
    sys.exit(128 + signal.SIGTERM)
