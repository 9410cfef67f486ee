"""A progress bar with the time left, on a terminal only."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

ShowProgress = Callable[[float, float | None], None]


@contextmanager
def progress_bar(title: str) -> Iterator[ShowProgress]:
    """Gives what to call with (done, total); nothing is printed where nobody watches."""
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
