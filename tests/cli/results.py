"""Reads the results of commands: the text of a success, the one sentence of a refusal."""

from collections.abc import Callable
from pathlib import Path

from click.testing import Result

from formcheck.storage import Store

Run = Callable[..., Result]
SAMPLE = Path(__file__).parents[1] / "data" / "review_v1.json"


def read_output(result: Result) -> str:
    assert result.exit_code == 0, result.output
    return result.stdout.replace("\N{NO-BREAK SPACE}", " ")


def read_refusal(result: Result, code: int) -> str:
    """The one sentence of a refusal."""
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, lines
    assert lines[0].startswith("formcheck: ")
    assert lines[0].endswith((".", "?"))
    return lines[0]


def count_reviews(home: Path) -> int:
    if not (home / "reviews.sqlite").exists():
        return 0
    with Store.open(home / "reviews.sqlite") as store:
        return store.check()
