"""Too little memory: one sentence that says so."""

import errno
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.errors import ClipError, PoseModelError, is_memory_shortage, mentions_memory_shortage
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.sandbox.sandboxed_tracking import SandboxLimits, track_clip
from formcheck.sandbox.worker import _make_error_response
from tests.made_up_lifter import write_clip

needs_limits = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux bounds a process's memory")


def chained(error: Exception, cause: Exception) -> Exception:
    error.__cause__ = cause
    return error


# What was seen when libraries were loaded and used under limits of 60 to 900 MiB.
SHORT = [
    MemoryError(),
    np._core._exceptions._ArrayMemoryError((10, 10), np.dtype("f8")),  # type: ignore[attr-defined]
    OSError(errno.ENOMEM, "Cannot allocate memory"),
    ImportError("libscipy_openblas-6cdc3b4a.so: failed to map segment from shared object"),
    OSError("libmediapipe.so: failed to map segment from shared object"),
    RuntimeError("can't start new thread"),
    RuntimeError("std::bad_alloc"),
    chained(
        PoseModelError("MediaPipe cannot be loaded."), ImportError("cv2: failed to map segment from shared object")
    ),
]
OTHERS = [
    ValueError("no memory of it"),
    ImportError("No module named 'fsspec'"),
    OSError(errno.ENOENT, "No such file or directory", "out of memory.mp4"),
    ClipError('"out of memory.mp4" is not a video.'),
    ImportError("a.so: failed to map segment from shared object: Operation not permitted"),
]


@pytest.mark.parametrize("error", SHORT, ids=repr)
def test_a_lack_of_memory_is_known_for_one(error: Exception) -> None:
    assert is_memory_shortage(error)
    assert _make_error_response(error).kind == "memory"


@pytest.mark.parametrize("error", OTHERS, ids=repr)
def test_other_errors_are_not_taken_for_it(error: Exception) -> None:
    assert not is_memory_shortage(error)
    assert _make_error_response(error).kind != "memory"


def test_last_words_of_a_process_that_could_not_begin() -> None:
    assert mentions_memory_shortage("OpenBLAS error: Memory allocation still failed after 10 retries, giving up.")
    assert mentions_memory_shortage("Traceback (most recent call last):\nMemoryError\n")


@needs_limits
@pytest.mark.parametrize("bound_mib", [60, 200])
def test_a_child_that_may_take_too_little_is_one_sentence(tmp_path: Path, bound_mib: int) -> None:
    """Too little to begin with, too little for the pose model."""
    clip = write_clip(tmp_path / "set.mp4")
    with pytest.raises(ClipError, match="memory") as caught:
        track_clip(clip, MediaPipeEstimator, sandbox_limits=SandboxLimits(memory_bytes=bound_mib * 1024**2))
    assert "\n" not in str(caught.value)


@needs_limits
@pytest.mark.parametrize(("limit", "mib"), [("--as", 200), ("--as", 900), ("--data", 300)])
def test_a_command_that_may_take_too_little_says_so(tmp_path: Path, limit: str, mib: int) -> None:
    clip = write_clip(tmp_path / "set.mp4")
    command = ["prlimit", f"{limit}={mib * 1024**2}", sys.executable, "-m", "formcheck", "review", str(clip)]
    done = subprocess.run([*command, "--exercise", "squat"], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "memory" in done.stderr
