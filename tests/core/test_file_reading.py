"""Files that never end, are no files or are too large: said so, and nothing waited for (POSIX: file types)."""

import os
import sys
from pathlib import Path

import pytest

from formcheck.batch.listing import read_requests
from formcheck.batch.requests import ClipRequest
from formcheck.core.errors import ExerciseError, PoseModelError, UsageError
from formcheck.core.file_reading import read_small_file
from formcheck.exercises.registry import MOST_BYTES, load_exercise_file
from formcheck.pose.model_bundle import compute_model_sha256


def test_a_file_is_read_up_to_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(b"x" * 2048)
    assert read_small_file(path, 2048) == b"x" * 2048
    path.write_bytes(b"x" * 2049)
    with pytest.raises(OSError, match="Larger than 2 KiB"):
        read_small_file(path, 2048)
    with pytest.raises(FileNotFoundError):
        read_small_file(tmp_path / "nothing.csv", 1)
    with pytest.raises(IsADirectoryError):
        read_small_file(tmp_path, 1)


@pytest.mark.skipif(sys.platform == "win32", reason="no such files on Windows")
@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_nothing_waits_for_what_is_no_file(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "own-raise.toml"
    if kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(ExerciseError, match=r"own-raise.toml: cannot be read: Not a file\."):
        load_exercise_file(path)
    with pytest.raises(UsageError, match="cannot be read: Not a file"):
        read_requests(path, ClipRequest(""))
    with pytest.raises(PoseModelError, match="is not a file"):
        compute_model_sha256(path)


@pytest.mark.parametrize(
    ("content", "says"),
    [("x = " + "[" * 100_000, "nested too deep"), ("#" * (MOST_BYTES + 1), "Larger than 1024 KiB")],
)
def test_an_exercise_file_made_to_break_its_reader(tmp_path: Path, content: str, says: str) -> None:
    path = tmp_path / "own-raise.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(ExerciseError, match=says):
        load_exercise_file(path)
