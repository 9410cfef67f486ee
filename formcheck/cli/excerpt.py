"""The command that cuts one rep or one moment out of a stored set."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from formcheck.cli import options
from formcheck.cli.group import cli

if TYPE_CHECKING:
    from formcheck.storage import Store

_SPEED = click.Choice(["0.25", "0.5", "1"])


@cli.command()
@options.number
@click.argument("out", type=options.FILE, metavar="FILE.mp4")
@click.option("--rep", type=options.COUNT, metavar="N", help="The rep to cut out.")
@click.option(
    "--at",
    "at_s",
    type=float,
    metavar="SECONDS",
    help="The moment of the clip to cut out, with a little before and after.",
)
@click.option("--speed", type=_SPEED, default="0.5", show_default=True, help="Below 1: slow motion.")
@click.option("--skeleton/--no-skeleton", default=True, show_default=True, help="Draw the skeleton in.")
@click.option("--sound", is_flag=True, help="Keep the clip's sound; only at speed 1.")
@click.option("--describe", "described", is_flag=True, help="Write exercise, rep and day into the file.")
@options.blur_faces
@options.with_store
def excerpt(
    number: int,
    out: Path,
    rep: int | None,
    at_s: float | None,
    speed: str,
    skeleton: bool,
    sound: bool,
    described: bool,
    blur_faces: bool,
    store: "Store",
) -> None:
    """Cut one rep or moment out of the clip of review NUMBER.

    To send on: without sound and without a word on where it comes from, unless you ask for them.
    """
    from formcheck.core.atomic_write import write_output
    from formcheck.services.excerpt import ExcerptWish, find_part, write_excerpt
    from formcheck.services.review_outputs import load_review_outputs
    from formcheck.storage.data_folder import data_home

    if out.suffix.lower() != ".mp4":
        raise click.UsageError(f"An excerpt is a film whose name ends in .mp4; {str(out)!r} does not.")
    wish = ExcerptWish(rep, at_s, float(speed), skeleton, blur_faces, sound, described)
    find_part(store.load_review(number), wish)
    made = load_review_outputs(store, number, data_home())
    with write_output(out) as part, options.progress_bar("Cutting it out") as show:
        write_excerpt(made, wish, part, on_progress=show)
    click.echo(f"Written: {out}")
