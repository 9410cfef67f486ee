"""What ``tools/benchmarks/fuzz.py`` has found, and a short run of it: readers of foreign bytes refuse in one
sentence."""

import io
import os
import signal
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formcheck.batch.listing import read_requests
from formcheck.batch.requests import ClipRequest
from formcheck.coaching.plan import parse_plan
from formcheck.core.errors import ExerciseError, FormcheckError, RecordingError, ReviewFormatError
from formcheck.exercises.registry import load_exercise_file
from formcheck.formats.stored_json import decode_edits, decode_limits
from formcheck.pose.recording import load_recording


def one_line(error: BaseException) -> bool:
    return str(error).isprintable() and len(str(error)) < 2000


def refused_in_one_line(read: Callable[..., object], *given: object) -> bool:
    """True also when it is not refused at all."""
    try:
        read(*given)
    except FormcheckError as error:
        return one_line(error)
    return True


def test_control_characters_in_stored_limits_do_not_reach_the_terminal() -> None:
    for text in ('{"depth\\u001b[31m": {"limit": "much"}}', '{"depth": {"tolera\x7f": 1}}'):
        with pytest.raises(ReviewFormatError) as caught:
            decode_limits(text)
        assert one_line(caught.value)


def archive(flags: int = 0, version: int = 20, method: int = 0) -> bytes:
    """A zip file whose one member says it needs what no reader here has."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("meta.npy", b"\x93NUMPY")
    data = bytearray(out.getvalue())
    for mark, start in ((b"PK\x03\x04", 4), (b"PK\x01\x02", 6)):
        at = data.index(mark) + start  # version needed, flags, method: PKWARE's APPNOTE, 4.3.7 and 4.3.12
        data[at : at + 6] = b"".join(value.to_bytes(2, "little") for value in (version, flags, method))
    return bytes(data)


@pytest.mark.parametrize("data", [archive(version=235), archive(flags=1), archive(method=99), archive(method=97)])
def test_recordings_packed_in_ways_nobody_reads(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "kept.npz"
    path.write_bytes(data)
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(path)


def test_an_array_whose_header_ends_within_a_bracket(tmp_path: Path) -> None:
    """The format of `.npy` files: magic, version 1.0, length of the header (2 bytes), header (NumPy's NEP 1)."""
    header = b"{'descr': ('<f8', 'shape': (2,"
    array = b"\x93NUMPY\x01\x00" + len(header).to_bytes(2, "little") + header
    path = tmp_path / "kept.npz"
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("meta.npy", array)
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(path)


def test_a_recording_with_pickled_objects_is_not_opened(tmp_path: Path) -> None:
    class Trap:
        def __reduce__(self) -> tuple[Any, ...]:
            return os.mkdir, (str(tmp_path / "sprung"),)

    path = tmp_path / "kept.npz"
    trap: Any = np.array([Trap()], dtype=object)
    np.savez(path, allow_pickle=True, meta=trap, t=trap, found=trap, pixels=trap, world=trap, visibility=trap)
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(path)
    assert not (tmp_path / "sprung").exists()


@given(text=st.text(max_size=300))
def test_any_text_as_plan_limits_or_corrections(text: str) -> None:
    for read in (parse_plan, decode_limits, decode_edits):
        assert refused_in_one_line(read, text)


@given(data=st.binary(max_size=400) | st.text(max_size=300).map(lambda text: f"clip,load\n{text}".encode()))
@settings(max_examples=60)
def test_any_bytes_as_list_or_exercise(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("any") / "input.toml"
    path.write_bytes(data)
    with pytest.raises(ExerciseError):
        load_exercise_file(path)
    assert refused_in_one_line(read_requests, path, ClipRequest(""))


@pytest.fixture(scope="module")
def fuzz(root: Path) -> Iterator[Any]:
    if os.name != "posix":
        pytest.skip("needs fork")
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(root / "tools" / "benchmarks"))
        import fuzz as module

        yield module


def test_a_short_run(fuzz: Any, tmp_path: Path) -> None:
    for target in fuzz.targets():
        for seed in (1, 2):
            assert fuzz.batch(target, seed, tmp_path) == [], target.name


def test_the_run_notices_what_goes_wrong(fuzz: Any, tmp_path: Path) -> None:
    def die(path: Path) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    def fail(path: Path) -> None:
        raise ZeroDivisionError("of the reader's own")

    assert "SIGKILL" in fuzz.batch(fuzz.Target("dying", die, [b"seed"], ".x"), 1, tmp_path)[0][1]
    found = fuzz.batch(fuzz.Target("failing", fail, [b"seed"], ".x"), 1, tmp_path)
    assert len(found) == fuzz.AT_ONCE
    assert "ZeroDivisionError" in found[0][1]
