"""Options, arguments, their types and outputs that several commands share."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from functools import partial, wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from formcheck.storage import Store

ShowProgress = Callable[[float, float | None], None]
FILE = click.Path(path_type=Path)
STDOUT = Path("-")
ROW_ID = click.IntRange(1, 2**62)
COUNT = click.IntRange(1, 1000)


def parse_day(text: str) -> date:
    """A day such as 2026-03-01 (BadParameter)."""
    from formcheck.core.model import FIRST_DAY, LAST_DAY

    try:
        day = datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a day; write it like 2026-03-01.") from None
    if not FIRST_DAY <= day <= LAST_DAY:
        raise click.BadParameter(f"{text!r} is not a day from {FIRST_DAY.year} to {LAST_DAY.year}.")
    return day


def parse_exercise_id(text: str) -> str:
    """The id of an exercise, or of a file of the user's own, which is known by it while the command runs.

    Raises ExerciseError for a file that cannot be used; ids are looked up where they are used.
    """
    if not text.lower().endswith(".toml"):
        return text
    from formcheck.exercises.registry import add_exercise_file

    return add_exercise_file(Path(text)).id


store = click.option("--store", metavar="URL", help="The database reviews are kept in, instead of the data folder.")
json_file = click.option(
    "--json", "json_file", type=FILE, metavar="FILE", help="Write it as JSON, for programs (-: screen)."
)
report = click.option("--report", type=FILE, metavar="FILE.html", help="Write a report that needs no network.")
blur_faces = click.option("--blur-faces", is_flag=True, help="Blur the lifter's head and other faces found.")
pose_model = click.option(
    "--pose-model", type=FILE, metavar="FILE", help="Another pose model: what finds the body points in a picture."
)
every_picture = click.option(
    "--every-picture",
    is_flag=True,
    help="Look at every picture, not only at 15 a second (every one where the movement is fast).",
)
details = click.option(
    "--details", is_flag=True, help="Print the evidence for each point, limits, sources and cautions in full."
)
yes = click.option("--yes", is_flag=True, help="Do not ask first.")
number = click.argument("number", type=ROW_ID)
exercise_argument = click.argument("exercise_id", type=parse_exercise_id, metavar="EXERCISE")
exercise = partial(click.option, "--exercise", "exercise_id", type=parse_exercise_id, metavar="ID|FILE.toml")
session = partial(click.option, "--session", "session_on", type=parse_day, metavar="DAY")
set_number = click.option("--set", "set_number", type=COUNT, metavar="N", help="Which set of the session.")


def open_store(url: str | None) -> "Store":
    """The store asked for, or the user's own."""
    from formcheck.storage import Store
    from formcheck.storage.data_folder import default_store

    return Store.open(url or default_store())


def with_store(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the option for the store, and as its parameter `store` the store while it is open."""

    @store
    @wraps(command)
    def run_with_store(*, store: str | None, **given: Any) -> None:
        with open_store(store) as opened:
            command(store=opened, **given)

    return run_with_store


def print_own_exercise_problems() -> None:
    """Print which exercise files of the data folder cannot be used, and why, one sentence each."""
    from formcheck.exercises.registry import list_own_exercise_problems

    for problem in list_own_exercise_problems():
        click.echo(problem, err=True)


def write_text(target: Path | None, text: str, *, end: str = "\n", quiet: bool = False) -> bool:
    """Write a text to the file asked for, or to the screen for ``-``; False when none was asked for.

    quiet : name the file on standard error, since JSON may be going to standard output.
    """
    from formcheck.core.atomic_write import write_output

    if target is None:
        return False
    if target == STDOUT:
        # As bytes: the format is UTF-8 whatever the terminal's encoding.
        click.echo(text.encode())
        return True
    with write_output(target) as part:
        part.write_text(text + end, encoding="utf-8", newline="")
    click.echo(f"Written: {target}", err=quiet)
    return True


@contextmanager
def progress_bar(title: str) -> Iterator[ShowProgress]:
    """A bar with the time left, on a terminal only; gives what to call with (done, total)."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(compact=True),
        TextColumn("left"),
        console=Console(stderr=True),
        transient=True,
        # The pose model's own noise is sent elsewhere by swapping these; rich swapping them too would undo that.
        redirect_stdout=False,
        redirect_stderr=False,
        disable=not sys.stderr.isatty(),
    )
    with bar:
        task = bar.add_task(title, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
