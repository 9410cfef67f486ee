"""Three clips that differ, and a store."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.batch import growing_files
from formcheck.batch.requests import ClipRequest
from formcheck.batch.run import BatchRequest
from tests.made_up_lifter import Lifter, write_clip

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _soon_quiet(monkeypatch: pytest.MonkeyPatch, in_process: None) -> None:
    """The clips of the tests were written a moment ago and are there in full."""
    monkeypatch.setattr(growing_files, "QUIET_S", 0.02)
    monkeypatch.setattr(growing_files, "CHECK_EVERY_S", 0.01)


@pytest.fixture(scope="session")
def clips(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("clips")
    return [write_clip(folder / f"set-{n}.mp4", shade=60 + 30 * n) for n in range(3)]


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Landmarks, looked for once for all tests that do not care."""
    return tmp_path_factory.mktemp("recordings")


@pytest.fixture
def wanted(recordings: Path) -> Callable[..., BatchRequest]:
    def make(*requests: ClipRequest, **fields: str | Path) -> BatchRequest:
        folder = str(fields.get("recordings", recordings))
        return BatchRequest(requests, folder, estimator_factory=Lifter, clock=lambda: NOON)

    return make
