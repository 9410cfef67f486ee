"""A clip whose name is not UTF-8, as old memory cards leave them: it is reviewed, written and listed like any other."""

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

import av
import pytest
from click.testing import CliRunner, Result
from streamlit.testing.v1 import AppTest

from formcheck.batch.local import InProcessRunner
from formcheck.cli import cli
from tests.facts import says
from tests.made_up_lifter import MadeUpEstimator, write_clip

NAME = b"set-\xe9\xff.mp4"
"""Latin-1 bytes; in UTF-8 neither of the two can stand there (RFC 3629)."""

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems have no such names")


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    whole = write_clip(tmp_path / "whole.mp4")
    folder = tmp_path / "card"
    folder.mkdir()
    return whole.rename(folder / os.fsdecode(NAME))


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    monkeypatch.setattr("formcheck.pose.estimator.MediaPipeEstimator", MadeUpEstimator)
    monkeypatch.setattr("formcheck.cli.batch._make_runner", lambda *_: InProcessRunner())
    return lambda *given: CliRunner().invoke(cli, [str(one) for one in given], prog_name="formcheck")


def test_every_file_of_a_review_is_written(clip: Path, call: Callable[..., Result], tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("r.html", "r.pdf", "r.json", "r.mp4")]
    options = zip(("--report", "--pdf", "--json", "--overlay"), files, strict=True)
    done = call("review", clip, "--exercise", "lateral-raise", *(part for option in options for part in option))
    assert done.exit_code == 0, done.output
    assert says(done.output, "review 1")
    assert "set-" in files[0].read_text(encoding="utf-8")
    assert files[1].read_bytes().startswith(b"%PDF")
    name = json.loads(files[2].read_bytes())["clip"]["name"]
    assert name.startswith("set-")
    assert name.endswith(".mp4")
    assert name.encode().decode() == name
    with av.open(str(files[3])) as film:
        assert film.streams.video
    again = call("review", clip, "--exercise", "lateral-raise", "--json", "-")
    assert json.loads(again.stdout)["clip"]["name"] == name
    assert call("history", "1", "--csv", tmp_path / os.fsdecode(b"t\xff.csv")).exit_code == 0
    assert "set-" in call("history").output


def test_a_batch_and_the_pages_list_it(clip: Path, call: Callable[..., Result], tmp_path: Path, root: Path) -> None:
    done = call("batch", clip.parent, "--exercise", "lateral-raise", "--json", tmp_path / "summary.json")
    assert done.exit_code == 0, done.output
    (outcome,) = json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))["clips"]
    assert outcome["state"] == "reviewed"
    assert "already there" in call("batch", clip.parent, "--exercise", "lateral-raise").output
    page = AppTest.from_file(str(root / "app.py"), default_timeout=60).run()
    for name in ("reviewed_sets", "compare", "export_or_delete"):
        page.switch_page(f"formcheck/web/pages/{name}.py").run()
        assert not page.exception
        assert not page.error
