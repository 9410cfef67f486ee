"""What several commands take."""

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from formcheck.storage import Store

store = click.option("--store", metavar="URL", help="The database reviews are kept in, instead of the data folder.")
json_file = click.option(
    "--json",
    "json_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write it as JSON, for programs (-: screen).",
)
pose_model = click.option(
    "--pose-model",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Another pose model: what finds the body points in a picture.",
)
number = click.argument("number", type=click.IntRange(1, 2**62))
yes = click.option("--yes", is_flag=True, help="Do not ask first.")


def open_store(where: str | None) -> "Store":
    """The store asked for, or the user's own."""
    from formcheck.storage import Store
    from formcheck.storage.data_folder import default_store

    return Store.open(where or default_store())


class Day(click.ParamType[date]):
    """A day such as 2026-03-01."""

    name = "day"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Read it."""
        from formcheck.core.model import FIRST_DAY, LAST_DAY

        if isinstance(value, date):
            return value
        try:
            day = datetime.strptime(str(value), "%Y-%m-%d").date()
        except ValueError:
            self.fail(f"{value!r} is not a day; write it like 2026-03-01.", param, ctx)
        if not FIRST_DAY <= day <= LAST_DAY:
            self.fail(f"{value!r} is not a day from {FIRST_DAY.year} to {LAST_DAY.year}.", param, ctx)
        return day


class Span(click.ParamType[tuple[float, ...]]):
    """Two or three moments of a clip in seconds, such as 3.2,6.5."""

    name = "span"

    def __init__(self, fewest: int = 2, most: int = 2) -> None:
        self.fewest, self.most = fewest, most

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, ...]:
        """Read it."""
        if isinstance(value, tuple):
            return value
        try:
            moments = tuple(float(part) for part in str(value).split(","))
        except ValueError:
            moments = ()
        if not self.fewest <= len(moments) <= self.most:
            self.fail(f"{value!r} is not moments in seconds, such as 3.2,6.5.", param, ctx)
        return moments


class ExerciseId(click.ParamType[str]):
    """An exercise by its id, or by a file of the user's own, which is known by its id while the command runs.

    Gives the id. Raises ExerciseError for a file that cannot be used; ids are looked up where they are used.
    """

    name = "exercise"

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """What stands for it in the help."""
        return "ID|FILE.toml"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read the file, if it is one."""
        if not value.lower().endswith(".toml"):
            return value
        from formcheck.exercises.registry import add_exercise_file

        return add_exercise_file(Path(value)).id


exercise_argument = click.argument("exercise_id", type=ExerciseId(), metavar="EXERCISE")


def print_own_exercise_problems() -> None:
    """Print which exercise files of the data folder cannot be used, and why, one sentence each."""
    from formcheck.exercises.registry import own_exercise_problems

    for problem in own_exercise_problems():
        click.echo(problem, err=True)
