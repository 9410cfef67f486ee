"""The made-up lifter and its clip, as the tests of the command line take them."""

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from formcheck.cli import cli
from tests.made_up_lifter import MadeUpEstimator, write_clip


@pytest.fixture(scope="session")
def grey_clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_clip(tmp_path_factory.mktemp("clips") / "grey-room.mp4")


@pytest.fixture
def clip(grey_clip: Path, tmp_path: Path) -> Path:
    """The clip, alone in a folder of the test's own."""
    folder = tmp_path / "here"
    folder.mkdir()
    copy = folder / "set.mp4"
    copy.write_bytes(grey_clip.read_bytes())
    return copy


@pytest.fixture
def estimator(monkeypatch: pytest.MonkeyPatch, in_process: None) -> type[MadeUpEstimator]:
    """The made-up lifter wherever the pose model would be used."""

    class Fresh(MadeUpEstimator):
        seen = 0  # its own count: other tests use the class above

    monkeypatch.setattr("formcheck.pose.estimator.MediaPipeEstimator", Fresh)
    return Fresh


@pytest.fixture
def run() -> Callable[..., Result]:
    """The command line in this process."""

    def call(*arguments: object) -> Result:
        return CliRunner().invoke(cli, [str(argument) for argument in arguments], prog_name="formcheck")

    return call


@pytest.fixture
def make_clip() -> Callable[..., Path]:
    return write_clip
