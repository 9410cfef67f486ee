"""A clip reviewed as another exercise: said first, with the command that reviews it as what it looks like."""

import shlex
from collections.abc import Callable
from pathlib import Path

from click.testing import Result

from tests.facts import says
from tests.made_up_lifter import MadeUpEstimator

Run = Callable[..., Result]
ASKED = "machine-reverse-fly"


def words_after(text: str, start: str) -> list[str]:
    """The command in the line that begins so, without the program's name."""
    (line,) = (line for line in text.splitlines() if line.startswith(start))
    return shlex.split(line.partition(": ")[2])[1:]


def test_another_exercise_is_said_first_and_either_word_is_one_command(
    run: Run, estimator: type[MadeUpEstimator], clip: Path
) -> None:
    result = run("review", clip, "--exercise", ASKED)
    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert says(lines[1], "another exercise")
    assert "Lateral raise" in " ".join(lines[1:3])
    assert "°" not in result.stdout
    assert "Filmed" not in result.stdout
    as_asked = words_after(result.stdout, "If it is Reverse fly on a machine all the same")
    other = words_after(result.stdout, "To do that")
    result = run(*as_asked)
    assert result.exit_code == 0, result.output
    assert "looks like another" not in result.stdout
    assert says(result.stdout, "exercise", "by hand")
    changed = run(*other)
    assert changed.exit_code == 0, changed.output
    assert changed.stdout.startswith("Lateral raise")
    assert "looks like another" not in changed.stdout


def test_what_is_not_kept_is_told_no_command_that_would_say_the_same_again(
    run: Run, estimator: type[MadeUpEstimator], clip: Path
) -> None:
    result = run("review", clip, "--exercise", ASKED, "--no-save")
    assert words_after(result.stdout, "To do that")[0] == "review"
    assert "all the same" not in result.stdout
