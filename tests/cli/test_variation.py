"""Reviewing a set as a variation of its exercise."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from click.testing import Result

from formcheck.storage import Store

Run = Callable[..., Result]


def test_a_set_is_judged_and_kept_as_its_variation(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    plain = run("review", clip, "--exercise", "lateral-raise", "--no-save")
    slow = run("review", clip, "--exercise", "lateral-raise", "--variation", "slow-lowering")
    assert plain.exit_code == slow.exit_code == 0, slow.output
    assert "Lateral raise, slow lowering" in slow.stdout
    assert "Three seconds down" in slow.stdout
    assert "Three seconds down" not in plain.stdout
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        assert [row.exercise_id for row in store.list_reviews()] == ["lateral-raise/slow-lowering"]
    assert run("history", "1").exit_code == 0


def test_an_unknown_variation_names_the_known_ones(run: Run, clip: Path, formcheck_home: Path) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--variation", "sideways")
    assert result.exit_code == 2
    assert "it has seated, slow-lowering" in result.stderr
    assert result.stdout == ""


def test_show_lists_variations_and_what_no_camera_tells(run: Run) -> None:
    out = run("show", "bent-over-lateral-raise").stdout
    assert "(mid-back)" in out
    assert "Back stays flat" in out
    assert "Shoulder blades move in to the spine" in run("show", "bent-over-lateral-raise/mid-back").stdout
