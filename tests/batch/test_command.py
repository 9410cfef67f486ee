"""``formcheck batch``: what it prints, writes and answers with."""

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from formcheck.batch.local import InProcessRunner
from formcheck.cli import cli
from formcheck.exercises.registry import list_general_cautions
from formcheck.report import wording
from formcheck.storage import Store
from tests.facts import says
from tests.made_up_lifter import MadeUpEstimator

Run = Callable[..., Result]


@pytest.fixture
def batch(monkeypatch: pytest.MonkeyPatch, path: Path) -> Run:
    """The command with the made-up lifter, in this process."""
    monkeypatch.setattr("formcheck.pose.estimator.MediaPipeEstimator", lambda _model: MadeUpEstimator())
    monkeypatch.setattr("formcheck.cli.batch._make_runner", lambda *_: InProcessRunner())

    def call(*arguments: Any) -> Result:
        given = ["batch", *map(str, arguments), "--store", str(path)]
        return CliRunner().invoke(cli, given, prog_name="formcheck")

    return call


def test_a_folder(batch: Run, clips: list[Path], path: Path) -> None:
    done = batch(clips[0].parent, "--exercise", "lateral-raise", "--client", "Ada Example")
    assert done.exit_code == 0, done.output
    assert says(done.output, "3 clips", "3 reviewed")
    again = batch(clips[0].parent, "--exercise", "lateral-raise", "--client", "Ada Example")
    assert again.exit_code == 0
    assert says(again.output, "3 clips", "3 already")
    with Store.open(path) as store:
        assert len(store.list_reviews(client="Ada Example")) == 3


def test_a_list_with_a_bad_clip(batch: Run, clips: list[Path], tmp_path: Path) -> None:
    (tmp_path / "bad.mp4").write_text("no clip")
    listed = tmp_path / "list.csv"
    listed.write_text(f"clip,exercise,load\nbad.mp4,squat,\n{clips[0]},lateral-raise,6\n")
    done = batch(listed, "--json", tmp_path / "summary.json")
    assert done.exit_code == 1
    assert says(done.output, "2 clips", "1 reviewed", "1 failed")
    assert says(done.output, "failed", "line 2")
    assert wording.describe_caution("formcheck cautions") in done.output
    summary = json.loads((tmp_path / "summary.json").read_text())
    assert tuple(summary["cautions"]) == list_general_cautions()
    assert summary["counts"] == {"reviewed": 1, "there": 0, "again": 0, "failed": 1}
    assert [clip["state"] for clip in summary["clips"]] == ["failed", "reviewed"]
    to_screen = CliRunner().invoke(cli, ["batch", str(listed), "--json", "-", "--store", str(tmp_path / "x" / "s")])
    assert json.loads(to_screen.stdout)["format"] == "formcheck-batch"


def test_the_command_for_another_exercise_is_for_this_store(batch: Run, clips: list[Path], path: Path) -> None:
    done = batch(clips[0].parent, "--exercise", "overhead-lateral-raise")
    assert "formcheck correct" not in done.output
    done = batch(clips[0].parent, "--exercise", "squat")
    (first, *_) = re.findall(r"formcheck correct (.*)", done.output)
    assert shlex.split(first)[1:] == ["--exercise", "lateral-raise", "--store", str(path)]


@pytest.mark.parametrize(
    ("text", "options", "what"),
    [
        ("clip,load\na.mp4,heavy\n", [], "Line 2 of 'list.csv' has the load 'heavy'"),
        ("clip\na.mp4\n", ["--exercise", "none-such"], "exercise that is not known"),
        ("clip\na.mp4\n", ["--view", "above"], "known are auto"),
        ("clip\na.mp4\n", ["--processes", "0"], "range"),
    ],
)
def test_a_wrong_call_is_one_sentence_and_code_2(
    batch: Run, tmp_path: Path, path: Path, text: str, options: list[str], what: str
) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text(text)
    done = batch(listed, *options)
    assert done.exit_code == 2
    assert what in done.output
    assert not path.exists()


ADDRESSES = [
    "ftp://127.0.0.1:9/set.mp4",
    "zip://set.mp4::/nowhere.zip",
    "hdfs://127.0.0.1:9/set.mp4",
    "gs://bucket/set.mp4",
    "pigeon://a.mp4",
    "github://a/b.mp4",
    "dask://x",
    "simplecache::ftp://127.0.0.1:9/y.mp4",
    "http://[::1/set.mp4",
    "://x",
    "memory://",
    "ftp:set.mp4",
]
"""Of kinds whose driver is missing, whose server does not answer, that no driver knows, or that are none."""


def test_an_address_that_cannot_be_used_is_named_and_the_rest_goes_on(
    batch: Run, clips: list[Path], tmp_path: Path
) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text("\n".join(["clip", *ADDRESSES, str(clips[0])]))
    done = batch(listed, "--exercise", "lateral-raise", "--json", tmp_path / "summary.json")
    assert done.exit_code == 1, done.output
    *failed, last = json.loads((tmp_path / "summary.json").read_text())["clips"]
    assert last["state"] == "reviewed"
    assert [(clip["line"], clip["state"]) for clip in failed] == [(n + 2, "failed") for n in range(len(ADDRESSES))]
    for clip in failed:
        assert "should not have happened" not in clip["text"]
        assert len(clip["text"].splitlines()) == 1
        assert clip["text"].endswith(".")


def test_a_cluster_has_no_processes_of_this_machine(batch: Run, tmp_path: Path) -> None:
    done = batch(tmp_path, "--cluster", "tcp://127.0.0.1:1", "--processes", 2)
    assert done.exit_code == 2
    assert "workers" in done.output
