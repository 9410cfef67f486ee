"""The command line. Only click is imported here, so that ``--help`` answers at once; each command imports its own."""

import math
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

# These modules add their commands to the group as they are imported.
from formcheck.cli import batch, clients, comparisons, corrections_and_limits, excerpt, marks, options, serve  # noqa: F401
from formcheck.cli.group import cli
from formcheck.core.private_files import make_new_files_private

if TYPE_CHECKING:
    from formcheck.storage import Store

__all__ = ["cli", "main"]

VIEWS = click.Choice(["auto", "front", "back", "side", "left", "right", "oblique"])
_VIEW_HELP = "Where the camera stood, seen from the lifter (oblique: between front and side); auto finds it out."


def _check_load(_ctx: click.Context, _param: click.Parameter, value: float | None) -> float | None:
    if value is not None and not (math.isfinite(value) and 0 <= value <= 2000):
        raise click.BadParameter("a load is between 0 and 2000 kg.")
    return value


@cli.command()
@click.argument("clip", type=options.FILE)
@options.exercise(help="The exercise (see formcheck exercises), a file of your own, or auto.")
@click.option("--with", "second", type=options.FILE, metavar="CLIP", help="The same set, filmed by a second camera.")
@click.option("--variation", metavar="ID", help="A variation of it (see formcheck show EXERCISE).")
@click.option("--view", type=VIEWS, default="auto", show_default=True, help=_VIEW_HELP)
@click.option("--with-view", "second_view", type=VIEWS, default="auto", help="Where the second camera stood.")
@click.option("--same-set", is_flag=True, help="Both clips show the same set, where formcheck cannot tell.")
@click.option("--client", metavar="NAME", help="The client; load and reps are taken from the client's plan.")
@options.session(help="The day of the session; today if not given.")
@options.set_number
@click.option("--load", "load_kg", type=float, metavar="KG", callback=_check_load, help="The load in kilograms.")
@click.option("--target-reps", type=options.COUNT, metavar="N", help="How many reps were planned.")
@click.option("--each-side", is_flag=True, help="So many reps were planned of the left and as many of the right.")
@click.option(
    "--json",
    "json_file",
    type=options.FILE,
    metavar="FILE",
    help="Write the numbers as JSON, for programs (-: screen).",
)
@click.option(
    "--report", type=options.FILE, metavar="FILE.html", help="Write a report for the browser; it needs no network."
)
@click.option("--pdf", type=options.FILE, metavar="FILE.pdf", help="Write the same report for paper.")
@click.option("--overlay", type=options.FILE, metavar="FILE.mp4", help="Write the clip with the skeleton drawn in.")
@options.blur_faces
@click.option("--save/--no-save", default=True, show_default=True, help="Keep the review in the history.")
@options.details
@options.every_picture
@options.pose_model
@options.store
def review(
    exercise_id: str | None,
    variation: str | None,
    json_file: Path | None,
    report: Path | None,
    pdf: Path | None,
    overlay: Path | None,
    blur_faces: bool,
    save: bool,
    details: bool,
    store: str | None,
    **request: Any,
) -> None:
    """Review one set from one clip, or from two filmed at once."""
    if store and not save:
        raise click.UsageError("--store and --no-save contradict each other.")
    if not save and (request["client"] or request["session_on"] or request["set_number"]):
        raise click.UsageError("--client, --session and --set are of no use with --no-save.")
    if blur_faces and not (report or pdf or overlay):
        raise click.UsageError("--blur-faces needs something to write: --report, --pdf or --overlay.")
    if request["each_side"] and request["target_reps"] is None:
        raise click.UsageError("--each-side needs --target-reps.")
    if request["second"] is None and request["second_view"] != "auto":
        raise click.UsageError("--with-view needs --with.")
    if request["second"] is None and request["same_set"]:
        raise click.UsageError("--same-set needs --with.")
    from formcheck.cli import exercise_choice, reviews
    from formcheck.services.pipeline import Outputs

    to_screen = json_file == options.STDOUT
    exercise_id = exercise_choice.choose_exercise(
        request["clip"], exercise_id, request["pose_model"], every_picture=request["every_picture"]
    )
    reviews.review(
        reviews.ReviewRequest(exercise_id=f"{exercise_id}/{variation}" if variation else exercise_id, **request),
        Outputs(None if to_screen else json_file, report, overlay, pdf, blur_faces),
        json_to_screen=to_screen,
        save=save,
        details=details,
        store_url=store,
    )


@cli.command()
@click.argument("clip", type=options.FILE)
@options.exercise(multiple=True, help="A file of your own to choose from as well; may be given several times.")
@options.pose_model
def suggest(clip: Path, pose_model: Path | None, **_known: tuple[str, ...]) -> None:
    """Say which exercise a clip probably shows, and from where."""
    from formcheck.cli import exercise_choice

    exercise_choice.print_suggestion(clip, pose_model)


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
    """Explain an exercise: measures, camera side, limits, cautions."""
    from formcheck.cli.printing import print_exercise
    from formcheck.exercises.registry import get_exercise

    print_exercise(get_exercise(exercise_id))


@cli.command()
@click.argument("number", type=options.ROW_ID, required=False)
@options.exercise(help="Only reviews of this exercise.")
@click.option("--limit", type=click.IntRange(1, 10**6), default=20, show_default=True, help="How many to list.")
@click.option("--json", "json_file", type=options.FILE, metavar="FILE", help="Write review NUMBER for programs: JSON.")
@click.option("--csv", "csv_file", type=options.FILE, metavar="FILE", help="Write its numbers for a spreadsheet: CSV.")
@click.option("--client", metavar="NAME", help="Only reviews of this client.")
@click.option("--delete", is_flag=True, help="Delete review NUMBER for good, with the files that only it needs.")
@options.details
@click.option("--check", is_flag=True, help="Read the whole store once and say whether it is undamaged.")
@options.with_store
def history(
    number: int | None,
    exercise_id: str | None,
    limit: int,
    json_file: Path | None,
    csv_file: Path | None,
    client: str | None,
    delete: bool,
    details: bool,
    check: bool,
    store: "Store",
) -> None:
    """List the stored reviews, or show review NUMBER again."""
    if number is None and (json_file or csv_file or delete or details):
        raise click.UsageError("--json, --csv, --details and --delete need the NUMBER of a review.")
    of_list = exercise_id is not None or client is not None
    if sum((json_file is not None, csv_file is not None, delete, check, of_list)) > 1 or (
        number and (of_list or check)
    ):
        raise click.UsageError("These options do not go together.")
    from formcheck.cli import reviews
    from formcheck.formats.csv_table import write_measures_csv
    from formcheck.report.wording import count
    from formcheck.services.delete import delete_review_data
    from formcheck.storage.data_folder import data_home

    if check:
        click.echo(f"The store {store.location} is undamaged: {count(store.check(), 'review')}, all complete.")
    elif number is None:
        reviews.list_reviews(store, exercise_id, client, limit)
    elif delete:
        delete_review_data(store, number, data_home())
        click.echo(f"Review {number} is deleted.")
    elif csv_file is not None:
        options.write_text(csv_file, write_measures_csv(store.load_review(number)).removesuffix("\r\n"), end="\r\n")
    else:
        reviews.print_stored_review(store, number, json_file, details=details)


@cli.command()
@click.option(
    "--clips", type=options.FILE, metavar="DIR", help="Other clips, each with a .truth.json that names its exercise."
)
@options.pose_model
@options.store
def demo(clips: Path | None, pose_model: Path | None, store: str | None) -> None:
    """Put an invented client and the shipped clips into the store.

    The client has six weeks of training. What is there already is skipped. With --clips only the clips of that folder
    are reviewed.
    """
    from formcheck.cli import reviews

    reviews.install_demo(clips, pose_model, store)


def main() -> None:
    """The ``formcheck`` command."""
    # As an exception, so that half-written files are removed on the way out.
    signal.signal(signal.SIGTERM, lambda number, _frame: sys.exit(128 + number))
    make_new_files_private()
    cli(prog_name="formcheck")
