"""Clips that are still being copied are waited for or named, and never reviewed under the checksum of a part."""

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from formcheck.batch import growing_files
from formcheck.batch import run as batch_run
from formcheck.batch.growing_files import wait_for_growing_files
from formcheck.batch.local import InProcessRunner
from formcheck.batch.requests import ClipRequest
from formcheck.batch.run import BatchRequest, run
from formcheck.storage import Store
from tests.batch.conftest import NOON
from tests.facts import says

HOUR_S = 3600.0


class Clock:
    """Time that passes only while somebody sleeps; what is due by then happens."""

    def __init__(self, start_s: float) -> None:
        self.at = start_s
        self.due: list[tuple[float, Callable[[], None]]] = []

    def now(self) -> float:
        return self.at

    def sleep(self, seconds: float) -> None:
        self.at += seconds
        for due in [item for item in self.due if item[0] <= self.at]:
            self.due.remove(due)
            due[1]()


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    monkeypatch.setattr(growing_files, "QUIET_S", 1.5)
    monkeypatch.setattr(growing_files, "CHECK_EVERY_S", 0.25)
    return Clock(1_800_000_000.0)


def written(path: Path, size: int, at_s: float) -> Path:
    path.write_bytes(bytes(size))
    os.utime(path, (at_s, at_s))
    return path


def test_files_that_rest_are_not_waited_for(tmp_path: Path, clock: Clock) -> None:
    old = written(tmp_path / "old.mp4", 10, clock.at - HOUR_S)
    assert wait_for_growing_files({old, tmp_path / "missing.mp4"}, now=clock.now, sleep=clock.sleep) == set()
    assert clock.at == 1_800_000_000.0


def test_a_file_that_grows_is_waited_for(tmp_path: Path, clock: Clock) -> None:
    path, start = written(tmp_path / "new.mp4", 10, clock.at), clock.at
    for second in range(1, 6):
        clock.due.append((start + second, lambda size=second: written(path, 10 + size, start + size)))  # type: ignore[misc]
    assert wait_for_growing_files({path}, now=clock.now, sleep=clock.sleep) == set()
    assert 5 + growing_files.QUIET_S <= clock.at - start < 8
    assert path.stat().st_size == 15


def test_a_file_that_goes_on_growing_is_named(tmp_path: Path, clock: Clock) -> None:
    path, start = written(tmp_path / "new.mp4", 10, clock.at), clock.at
    other = written(tmp_path / "other.mp4", 10, clock.at)
    for second in range(1, 100):
        clock.due.append((start + second, lambda size=second: written(path, 10 + size, start + size)))  # type: ignore[misc]
    assert wait_for_growing_files({path, other}, now=clock.now, sleep=clock.sleep) == {path}
    assert clock.at - start <= growing_files.MOST_WAIT_S + 1


def test_a_growing_clip_is_left_and_the_others_reviewed(
    clips: list[Path], store: Store, wanted: Callable[..., BatchRequest], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("formcheck.batch.planning.wait_for_growing_files", lambda paths: {clips[1]} & set(paths))
    requests = [ClipRequest(str(clip), "lateral-raise") for clip in clips[:2]]
    summary = run(wanted(*requests), store, InProcessRunner())
    assert [outcome.state for outcome in summary.outcomes] == ["reviewed", "failed"]
    assert says(summary.outcomes[1].text, "still", "written")
    assert len(store.list_reviews()) == 1


def half_of(clip: Path, path: Path, age_s: float) -> Path:
    """The clip with its index first, its last quarter missing, last written to so long before `NOON`."""
    import av

    with av.open(str(clip)) as reading, av.open(str(path), "w", options={"movflags": "+faststart"}) as writing:
        track = writing.add_stream_from_template(reading.streams.video[0])
        for packet in reading.demux(video=0):
            if packet.dts is not None:
                packet.stream = track
                writing.mux(packet)
    data = path.read_bytes()
    path.write_bytes(data[: round(0.75 * len(data))])
    at = NOON.timestamp() - age_s
    os.utime(path, (at, at))
    return path


def test_a_damaged_clip_is_reviewed_and_told_but_not_while_it_may_still_arrive(
    clips: list[Path], tmp_path: Path, store: Store, wanted: Callable[..., BatchRequest]
) -> None:
    fresh = half_of(clips[0], tmp_path / "fresh.mp4", 20.0)
    request = ClipRequest(str(fresh), "lateral-raise")
    (outcome,) = run(wanted(request), store, InProcessRunner()).outcomes
    assert outcome.state == "failed"
    assert "damaged" in outcome.text
    assert "copied" in outcome.text
    assert store.list_reviews() == []
    half_of(clips[0], fresh, HOUR_S)
    (outcome,) = run(wanted(request), store, InProcessRunner()).outcomes
    assert outcome.state == "reviewed"
    assert outcome.review_id is not None
    assert [item.code for item in store.load_review(outcome.review_id).quality.problems][:1] == ["clip-damaged"]


def test_a_file_replaced_before_its_turn_is_not_kept_under_the_first_ones_name(
    clips: list[Path],
    tmp_path: Path,
    store: Store,
    wanted: Callable[..., BatchRequest],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = tmp_path / "clip.mp4"
    path.write_bytes(clips[0].read_bytes())
    real = batch_run.find_clips

    def then_replaced(requests: list[ClipRequest]) -> object:
        known = real(requests)
        path.write_bytes(clips[1].read_bytes())
        return known

    monkeypatch.setattr(batch_run, "find_clips", then_replaced)
    (outcome,) = run(wanted(ClipRequest(str(path), "lateral-raise")), store, InProcessRunner()).outcomes
    assert outcome.state == "failed"
    assert "changed" in outcome.text
    assert store.list_reviews() == []


def test_a_new_file_is_quiet_soon(tmp_path: Path) -> None:
    path = tmp_path / "new.mp4"
    path.write_bytes(b"film")
    assert time.time() - path.stat().st_mtime < growing_files.YOUNG_S
    assert wait_for_growing_files({path}) == set()
