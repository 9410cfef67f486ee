"""Files written in one step: whole or not at all, and nothing left beside them."""

import os
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from formcheck.core.atomic_write import (
    STALE_AFTER_S,
    atomic_write,
    make_part_file,
    make_part_folder,
    remove_stale_parts,
    replace_file,
    write_output,
)
from formcheck.core.errors import FILE, OutputError

Writer = Callable[[Path], AbstractContextManager[Path]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "here").mkdir()
    return tmp_path / "here"


def left_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.mark.parametrize("write", [atomic_write, write_output])
def test_a_reader_sees_the_old_file_until_the_new_one_is_whole(folder: Path, write: Writer) -> None:
    target = folder / "a.txt"
    target.write_text("old")
    with write(target) as part:
        part.write_text("new")
        assert part.parent == target.parent  # a move between file systems would be a copy
        assert target.read_text() == "old"
    assert target.read_text() == "new"
    assert left_in(folder) == {"a.txt"}


@pytest.mark.parametrize("failure", [ValueError("a bug"), KeyboardInterrupt(), OSError(28, "No space left on device")])
def test_what_fails_leaves_the_old_file_and_no_half(folder: Path, failure: BaseException) -> None:
    target = folder / "a.txt"
    target.write_text("old")

    def write_half() -> None:
        with atomic_write(target) as part:
            part.write_text("half")
            raise failure

    with pytest.raises(type(failure)):
        write_half()
    assert target.read_text() == "old"
    assert left_in(folder) == {"a.txt"}


def test_text_is_utf8_with_its_own_line_ends(folder: Path) -> None:
    replace_file(folder / "a.csv", "Läufe\r\n")
    assert (folder / "a.csv").read_bytes() == "Läufe\r\n".encode()


@pytest.mark.skipif(sys.platform == "win32", reason="permission bits are POSIX's")
def test_files_are_private_whatever_the_umask(folder: Path) -> None:
    usual = os.umask(0)
    try:
        with make_part_file(folder / "a") as part, make_part_folder(folder / "b") as inner:
            assert [stat.S_IMODE(path.stat().st_mode) for path in (part, inner)] == [0o600, 0o700]
        replace_file(folder / "c", b"")
    finally:
        os.umask(usual)
    assert stat.S_IMODE((folder / "c").stat().st_mode) == 0o600


@pytest.mark.skipif(sys.platform == "win32", reason="names of 255 bytes are POSIX's")
def test_the_longest_name_can_be_written(folder: Path) -> None:
    name = "\N{PERSON CLIMBING}" * 63 + ".md"  # 255 bytes, NAME_MAX of Linux's file systems (limits.h)
    replace_file(folder / name, "x")
    assert left_in(folder) == {name}


def test_a_part_that_was_moved_away_stays(folder: Path) -> None:
    with make_part_file(folder / "a") as part, make_part_folder(folder / "b") as inner:
        part.replace(folder / "file")
        inner.replace(folder / "folder")
    with make_part_file(folder / "c"), make_part_folder(folder / "d") as inner:
        (inner / "inside").touch()
    assert left_in(folder) == {"file", "folder"}


def test_the_half_of_a_killed_process_is_known_by_its_name_and_goes_in_time(folder: Path) -> None:
    dying = (
        "import os, pathlib, sys\nfrom formcheck.core.atomic_write import atomic_write\n"
        "with atomic_write(pathlib.Path(sys.argv[1])) as part:\n    part.write_text('half')\n    os._exit(9)\n"
    )
    target = folder / "a.npz"
    assert subprocess.run([sys.executable, "-c", dying, str(target)], check=False).returncode == 9
    (half,) = folder.iterdir()
    for path in (target, folder / "b.tmp", folder / ".c.tmp"):  # the last as earlier versions left it
        path.touch()
    remove_stale_parts(folder)
    assert half.exists()
    for path in folder.iterdir():
        os.utime(path, (time.time() - 2 * STALE_AFTER_S,) * 2)
    remove_stale_parts(folder)
    assert left_in(folder) == {"a.npz", "b.tmp"}
    remove_stale_parts(folder / "no-such-folder")


def test_a_trial_writes_nothing_and_keeps_what_is_there(folder: Path) -> None:
    (folder / "a.txt").write_text("mine")
    for name in ("a.txt", "b.txt"):
        with write_output(folder / name, trial=True) as part:
            part.write_text("x")
    assert (folder / "a.txt").read_text() == "mine"
    assert left_in(folder) == {"a.txt"}


@pytest.mark.parametrize("failure", [ValueError("a bug"), KeyboardInterrupt(), OSError(28, "No space left on device")])
def test_an_output_that_fails_leaves_the_old_file(tmp_path: Path, failure: BaseException) -> None:
    folder = tmp_path / "here"
    folder.mkdir()
    target = folder / "a.txt"
    target.write_text("old")

    def write_half() -> None:
        with write_output(target) as part:
            part.write_text("half")
            raise failure

    with pytest.raises(OutputError if isinstance(failure, OSError) else type(failure)):
        write_half()
    assert target.read_text() == "old"
    assert left_in(folder) == {"a.txt"}


def test_an_error_names_the_file_asked_for(tmp_path: Path) -> None:
    def fail() -> None:
        with write_output(tmp_path / "film.mp4") as part:
            raise OutputError(f"The film {FILE} cannot be written: made up.", path=part)

    with pytest.raises(OutputError) as caught:
        fail()
    assert str(caught.value) == f"The film {tmp_path / 'film.mp4'} cannot be written: made up."


def test_a_linked_file_is_replaced_where_it_lies(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "a.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to(tmp_path / "real" / "a.txt")
    with write_output(tmp_path / "link.txt") as part:
        part.write_text("new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real" / "a.txt").read_text() == "new"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes in the file system are POSIX's")
def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    with write_output(pipe) as part:
        part.write_text("through")
    assert os.read(reader, 100) == b"through"
    os.close(reader)
    assert pipe.is_fifo()


@pytest.mark.skipif(sys.platform == "win32", reason="permission bits are POSIX's")
def test_a_new_file_has_the_user_s_usual_permissions(tmp_path: Path) -> None:
    usual = tmp_path / "usual"
    usual.touch()
    with write_output(tmp_path / "a.txt") as part:
        part.write_text("x")
    assert (tmp_path / "a.txt").stat().st_mode == usual.stat().st_mode
