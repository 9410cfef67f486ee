"""The command `demo`: reviews each clip of a folder once, and one bad clip does not stop it."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

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
