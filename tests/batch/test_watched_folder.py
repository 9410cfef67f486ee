"""A watched folder: what arrives is reviewed once it is there in full; older files, links and folders are left."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from formcheck.batch.growing_files import QUIET_S, WatchedFolder
from formcheck.batch.requests import ClipRequest, Outcome
from formcheck.cli import batch as watch_command
from formcheck.cli import cli
from formcheck.core.errors import UsageError
from formcheck.jobs import queue
from formcheck.web.review.chosen_clips import list_ready_clips


class Clock:
    """Seconds that pass when told."""

    at = 0.0

    def now(self) -> float:
        return self.at

    def wait(self) -> None:
        self.at += QUIET_S


@pytest.fixture
def clock() -> Clock:
    return Clock()


def names(watched: WatchedFolder) -> list[str]:
    return [path.name for path in watched.take_arrived()]


def test_only_what_arrives_is_given_and_once(tmp_path: Path, clock: Clock) -> None:
    (tmp_path / "old.mp4").write_bytes(b"old")
    watched = WatchedFolder(tmp_path, now=clock.now)
    for name in ("b.mp4", "a.MOV", "notes.txt", ".b.mp4.part", ".hidden.mp4"):
        (tmp_path / name).write_bytes(b"new")
    assert names(watched) == []  # seen for the first time
    clock.wait()
    (tmp_path / "old.mp4").write_bytes(b"written to again")
    assert names(watched) == ["a.MOV", "b.mp4"]
    clock.wait()
    assert names(watched) == []


def test_a_clip_is_waited_for_as_long_as_it_grows(tmp_path: Path, clock: Clock) -> None:
    watched = WatchedFolder(tmp_path, now=clock.now)
    clip = tmp_path / "set.mp4"
    clip.touch()
    for size in (0, 0, 10, 20):
        clip.write_bytes(bytes(size))
        assert names(watched) == []
        clock.wait()
    assert names(watched) == ["set.mp4"]


def test_links_and_folders_are_left_alone(tmp_path: Path, clock: Clock) -> None:
    outside, inside = tmp_path / "outside", tmp_path / "inside"
    for folder in (outside, inside):
        folder.mkdir()
    (outside / "secret.mp4").write_bytes(b"somebody else's")
    watched = WatchedFolder(inside, now=clock.now)
    (inside / "folder.mp4").mkdir()
    if os.name == "posix":
        (inside / "link.mp4").symlink_to(outside / "secret.mp4")
        os.mkfifo(inside / "pipe.mp4")
    (inside / "real.mp4").write_bytes(b"film")
    names(watched)
    clock.wait()
    assert names(watched) == ["real.mp4"]


def test_what_was_taken_away_may_come_again_and_a_lost_folder_is_no_error(tmp_path: Path, clock: Clock) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    watched = WatchedFolder(folder, now=clock.now)
    for _ in range(2):
        (folder / "set.mp4").write_bytes(b"film")
        names(watched)
        clock.wait()
        assert names(watched) == ["set.mp4"]
        (folder / "set.mp4").unlink()
        assert names(watched) == []
    folder.rmdir()
    assert names(watched) == []
    with pytest.raises(UsageError, match="no folder"):
        WatchedFolder(folder)


def test_the_command_reviews_what_arrives_for_the_client(
    tmp_path: Path, formcheck_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[ClipRequest] = []
    looks = iter([[], [tmp_path / "set.mp4"], KeyboardInterrupt()])

    def look(self: WatchedFolder) -> list[Path]:
        found = next(looks)
        if isinstance(found, KeyboardInterrupt):
            raise found
        return found

    monkeypatch.setattr(WatchedFolder, "take_arrived", look)
    monkeypatch.setattr(watch_command, "_LOOK_EVERY_S", 0.0)
    monkeypatch.setattr("formcheck.batch.run.run", lambda wanted, *_, **__: asked.extend(wanted.clips))

    def call(*arguments: object) -> Result:
        return CliRunner().invoke(cli, [str(argument) for argument in arguments], prog_name="formcheck")

    done = call("watch", tmp_path, "--client", " Nora  Invented ", "--exercise", "squat")
    assert done.exit_code == 0, done.output
    assert asked == [ClipRequest(str(tmp_path / "set.mp4"), "squat", "Nora Invented")]
    assert "no longer watched" in done.output
    assert call("watch", tmp_path).exit_code == 2  # whose sets they are is always said
    assert call("watch", tmp_path / "nowhere", "--client", "Nora").exit_code != 0


@pytest.mark.parametrize("elsewhere", [False, True])
def test_an_unclear_clip_comes_to_the_sheet_of_clips_with_its_client(
    tmp_path: Path, formcheck_home: Path, monkeypatch: pytest.MonkeyPatch, elsewhere: bool
) -> None:
    clip = tmp_path / "set.mp4"
    clip.write_bytes(b"film")
    looks = iter([[clip], KeyboardInterrupt()])

    def look(self: WatchedFolder) -> list[Path]:
        found = next(looks)
        if isinstance(found, KeyboardInterrupt):
            raise found
        return found

    def run(wanted: object, *_: object, on_outcome: Callable[[Outcome], None]) -> None:
        text = "It is not clear which exercise this clip shows."
        on_outcome(Outcome(ClipRequest(str(clip), "auto", "Nora"), "failed", text=text, unclear=True))

    monkeypatch.setattr(WatchedFolder, "take_arrived", look)
    monkeypatch.setattr("formcheck.batch.run.run", run)
    monkeypatch.setattr(queue, "_launch", lambda store, job: None)
    store = ("--store", str(tmp_path / "other.sqlite")) if elsewhere else ()
    arguments = ["watch", str(tmp_path), "--client", "Nora", *store]
    done = CliRunner().invoke(cli, arguments, prog_name="formcheck")
    assert done.exit_code == 0, done.output
    listed = [(item.path, item.name, item.job and item.job.request.client) for item in list_ready_clips()]
    # A store elsewhere is not the page's, whose sheet would review the clip into another one.
    assert listed == ([] if elsewhere else [(clip, "set.mp4", "Nora")])
    assert ("choose it on the page" in done.output) != elsewhere
    assert clip.is_file()
