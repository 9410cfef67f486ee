"""Two clips of one set, and a clip whose exercise nobody named, from the command line."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from formcheck.pairing import decision
from formcheck.pose.estimator import Pose
from tests.facts import says
from tests.made_up_lifter import MadeUpEstimator

Run = Callable[..., Result]


@pytest.fixture
def other_clip(make_clip: Callable[..., Path], tmp_path: Path) -> Path:
    """Another file of the same length: the made-up lifter does in it what is done in every clip."""
    return make_clip(tmp_path / "side.mp4", shade=120)


def test_two_clips_make_one_review(
    run: Run, estimator: type[MadeUpEstimator], clip: Path, other_clip: Path, tmp_path: Path
) -> None:
    numbers, report = tmp_path / "set.json", tmp_path / "set.html"
    result = run(
        "review", clip, "--with", other_clip, "--exercise", "lateral-raise", "--json", numbers, "--report", report
    )
    assert result.exit_code == 0, result.output
    assert says(result.output, "second camera", "side.mp4")
    second = json.loads(numbers.read_text())["second_camera"]
    assert second["clip"]["name"] == "side.mp4"
    assert abs(second["offset_s"]) < 1 / 12
    assert "side.mp4" in report.read_text()
    shown = run("history", 1)
    assert shown.exit_code == 0
    assert says(shown.output, "second camera", "side.mp4")
    assert run("history", "--check").exit_code == 0


def test_clips_of_different_sets_are_refused_and_nothing_is_kept(
    run: Run, estimator: type[MadeUpEstimator], clip: Path, other_clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = MadeUpEstimator.detect

    def slower(self: MadeUpEstimator, rgb: object, t_s: float) -> Pose:
        # The second room is lighter; what is done in it takes a third longer.
        return seen(self, rgb, t_s * 0.66 if rgb[0, 0, 0] > 105 else t_s)  # type: ignore[index]

    monkeypatch.setattr(estimator, "detect", slower)
    result = run("review", clip, "--with", other_clip, "--exercise", "lateral-raise")
    assert result.exit_code == 1
    assert says(result.stderr, "not", "same set")
    assert len(result.stderr.strip().splitlines()) == 1
    assert says(run("history").output, "no reviews")


def test_what_is_unclear_is_asked_in_one_sentence_and_can_be_answered(
    run: Run, estimator: type[MadeUpEstimator], clip: Path, other_clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(decision, "ACCEPTED", 1.1)  # so sure it can never be
    call = ("review", clip, "--with", other_clip, "--exercise", "lateral-raise")
    result = run(*call)
    assert result.exit_code == 1
    assert says(result.stderr, "not clear", "same set", "but", "--same-set")
    assert len(result.stderr.strip().splitlines()) == 1
    assert says(run("history").output, "no reviews")
    answered = run(*call, "--same-set")
    assert answered.exit_code == 0, answered.output
    assert says(run("history", 1, "--details").output, "second camera", "side.mp4")


def test_the_answer_needs_a_second_camera(run: Run, clip: Path) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--same-set")
    assert result.exit_code == 2
    assert "--same-set needs --with" in result.stderr


def test_a_second_clip_that_is_none_is_one_sentence(
    run: Run, estimator: type[MadeUpEstimator], clip: Path, tmp_path: Path
) -> None:
    words = tmp_path / "words.mp4"
    words.write_text("no clip")
    for wrong in (words, tmp_path / "nowhere.mp4"):
        result = run("review", clip, "--with", wrong, "--exercise", "lateral-raise", "--no-save")
        assert result.exit_code == 1
        assert wrong.name in result.stderr
        assert "Traceback" not in result.stderr


def test_an_output_never_takes_the_place_of_the_second_clip(
    run: Run, estimator: type[MadeUpEstimator], clip: Path, other_clip: Path
) -> None:
    before = other_clip.read_bytes()
    result = run("review", clip, "--with", other_clip, "--exercise", "lateral-raise", "--overlay", other_clip)
    assert result.exit_code == 2
    assert other_clip.read_bytes() == before


def test_the_second_cameras_side_needs_a_second_camera(run: Run, clip: Path) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--with-view", "left")
    assert result.exit_code == 2
    assert "--with-view needs --with" in result.stderr


# ---------------------------------------------------------------- which exercise is this?


def test_without_an_exercise_the_clip_is_looked_at_and_the_user_decides(
    run: Run, estimator: type[MadeUpEstimator], clip: Path
) -> None:
    result = run("review", clip)
    assert result.exit_code == 2
    assert says(result.stderr, "looks like", "lateral raise")
    assert "--exercise lateral-raise" in result.stderr
    assert says(run("history").output, "no reviews")


def test_auto_takes_a_clear_suggestion_and_says_so(run: Run, estimator: type[MadeUpEstimator], clip: Path) -> None:
    result = run("review", clip, "--exercise", "auto")
    assert result.exit_code == 0, result.output
    assert says(result.stderr, "looks like", "lateral raise")
    assert "Reviewed as that" in result.stderr
    assert "lateral-raise" in run("history").output


def test_auto_asks_when_it_is_not_clear(
    run: Run, estimator: type[MadeUpEstimator], clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = MadeUpEstimator.detect
    monkeypatch.setattr(estimator, "detect", lambda self, rgb, t_s: seen(self, rgb, 0.0))  # the lifter stands still
    result = run("review", clip, "--exercise", "auto")
    assert result.exit_code == 2
    assert says(result.stderr, "none", "exercises")


def test_suggest_lists_what_it_may_be_and_why(run: Run, estimator: type[MadeUpEstimator], clip: Path) -> None:
    result = run("suggest", clip)
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert any(says(line, "looks like", "lateral raise") for line in lines)
    assert says(result.output, "arms", "sides")
    assert "from the front" in result.output


def test_suggest_says_in_one_sentence_what_is_wrong_with_a_file(run: Run, tmp_path: Path) -> None:
    result = run("suggest", tmp_path / "nowhere.mp4")
    assert result.exit_code == 1
    assert len(result.stderr.strip().splitlines()) == 1
