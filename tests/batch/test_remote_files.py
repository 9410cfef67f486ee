"""Clips and landmarks behind a URL."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formcheck.batch.local import InProcessRunner
from formcheck.batch.remote_files import check_url, fetch_clip
from formcheck.batch.requests import ClipRequest
from formcheck.batch.run import BatchRequest, run
from formcheck.core.errors import ClipError, UsageError
from formcheck.pose.recording import load_recording
from formcheck.storage import Store
from tests.facts import says

pytest.importorskip("fsspec")
Make = Callable[..., BatchRequest]
RAISE = "lateral-raise"


def test_a_plain_path_is_used_as_it_is(tmp_path: Path) -> None:
    with fetch_clip(str(tmp_path / "a.mp4")) as path:
        assert path == tmp_path / "a.mp4"


@pytest.mark.parametrize("scheme", ["memory", "file"])
def test_clips_are_read_and_landmarks_kept_by_url(
    scheme: str, clips: list[Path], store: Store, wanted: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fsspec.core import url_to_fs

    base = f"file://{tmp_path.as_posix()}" if scheme == "file" else "memory://sets"
    files: Any = url_to_fs(base)[0]
    (tmp_path / "clips").mkdir()
    files.makedirs(url_to_fs(f"{base}/clips")[1], exist_ok=True)
    files.pipe_file(url_to_fs(f"{base}/clips/a.mp4")[1], clips[0].read_bytes())
    requests = [ClipRequest(f"{base}/clips/a.mp4", RAISE), ClipRequest(f"{base}/clips/none.mp4", RAISE)]
    summary = run(wanted(*requests, recordings=f"{base}/landmarks"), store, InProcessRunner())
    assert [one.state for one in summary.outcomes] == ["reviewed", "failed"]
    assert says(summary.outcomes[1].text, "none.mp4", "not exist")
    (row,) = store.list_reviews()
    assert (row.clip_name, row.clip_path) == ("a.mp4", f"{base}/clips/a.mp4")
    (stored,) = files.glob(url_to_fs(f"{base}/landmarks/*.npz")[1])
    copy = tmp_path / "copy.npz"
    copy.write_bytes(files.cat_file(stored))
    assert load_recording(copy).clip.sha256 == row.clip_sha256
    # Another exercise needs no second look: without anything to look with, it is reviewed from what is kept.
    monkeypatch.setattr("tests.made_up_lifter.MadeUpEstimator.detect", None)
    again = run(wanted(ClipRequest(requests[0].clip, "overhead-lateral-raise"), recordings=f"{base}/landmarks"), store,
                InProcessRunner())  # fmt: skip
    assert again.all_good, again
    assert [one.state for one in run(wanted(requests[0]), store, InProcessRunner()).outcomes] == ["there"]


def test_a_url_of_no_known_kind_is_one_sentence() -> None:
    with pytest.raises(UsageError, match="cannot be used"):
        check_url("carrier-pigeon://sets/a.mp4")
    check_url("/a/path.mp4")


def test_a_clip_larger_than_the_limit_is_not_fetched_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    import fsspec

    monkeypatch.setattr("formcheck.batch.remote_files._BLOCK", 10)
    monkeypatch.setattr("formcheck.batch.remote_files.ClipLimits", lambda: type("Small", (), {"max_bytes": 25}))
    with fsspec.open("memory://large/a.mp4", "wb") as file:
        file.write(b"x" * 1000)
    with fetch_clip("memory://large/a.mp4") as path:
        assert path.stat().st_size == 30
    with pytest.raises(ClipError), fetch_clip("memory://large/none.mp4"):
        pass
