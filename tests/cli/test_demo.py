"""The command `demo`: reviews each clip of a folder once, and one bad clip does not stop it."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from formcheck.storage.data_folder import DataFolder
from tests.cli.results import Run, count_reviews, read_output, read_refusal
from tests.facts import says


@pytest.fixture
def clips(make_clip: Any, tmp_path: Path) -> Path:
    folder = tmp_path / "clips"
    folder.mkdir()
    for name, exercise, shade in (("a", "lateral-raise", 60), ("b", "overhead-lateral-raise", 120)):
        make_clip(folder / f"{name}.mp4", shade=shade)
        (folder / f"{name}.truth.json").write_text(json.dumps({"exercise": exercise}))
    return folder


def test_demo_reviews_each_clip_once(run: Run, clips: Path, estimator: Any, formcheck_home: Path) -> None:
    out = read_output(run("demo", "--clips", clips))
    assert re.search(r"^a\.mp4: review 1, lateral-raise\. 4 complete reps", out, re.M)
    assert re.search(r"^b\.mp4: review 2, overhead-lateral-raise\. ", out, re.M)
    seen = estimator.seen
    again = read_output(run("demo", "--clips", clips))
    assert again.count("already in the store") == 2
    assert estimator.seen == seen
    assert count_reviews(formcheck_home) == 2


def test_the_examples_have_all_that_the_page_draws_for_them(
    run: Run, clips: Path, estimator: Any, formcheck_home: Path
) -> None:
    """One of an earlier program, which had nothing drawn, gets it when the demo is asked for again."""
    read_output(run("demo", "--clips", clips))
    drawn = [DataFolder(formcheck_home).artifacts(number) for number in (1, 2)]
    for files, name in zip(drawn, ("a.mp4", "b.mp4"), strict=True):
        assert files.complete
        assert files.playable(str(clips / name)) is not None
        assert not files.film_wanted
    drawn[0].report.unlink()
    drawn[0].plays_mark.unlink(missing_ok=True)
    drawn[0].film.unlink(missing_ok=True)
    read_output(run("demo", "--clips", clips))
    assert drawn[0].complete
    assert drawn[0].playable(str(clips / "a.mp4")) is not None


@pytest.mark.parametrize(
    ("truth", "reason"),
    [(None, "cannot be read"), ("{", "not JSON"), ("[]", "does not name"), ('{"exercise": "flying"}', "no exercise")],
)
def test_one_bad_clip_does_not_stop_the_demo(
    run: Run, clips: Path, estimator: Any, formcheck_home: Path, truth: str | None, reason: str
) -> None:
    place = clips / "a.truth.json"
    place.unlink() if truth is None else place.write_text(truth)
    result = run("demo", "--clips", clips)
    assert result.exit_code == 1
    first, last = result.stderr.strip().splitlines()
    assert first.startswith("a.mp4: ")
    assert reason in first
    assert says(last, "1", "2", "not")
    assert count_reviews(formcheck_home) == 1


def test_the_demo_takes_the_clips_beside_the_package(root: Path) -> None:
    from formcheck.storage.media_files import shipped_folder

    assert shipped_folder() == root / "clips_demo"


def test_demo_without_clips_is_one_sentence(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bare").mkdir()
    for name in ("bare", "missing"):
        assert "no clips" in read_refusal(run("demo", "--clips", tmp_path / name), 1)
