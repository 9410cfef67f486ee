"""An error can call its file by the name the user knows, wherever it was raised."""

import pickle
from pathlib import Path

import pytest

from formcheck.core.errors import FILE, ClipError, StoreError
from formcheck.jobs.queue import JobRequest
from formcheck.jobs.worker import _name_clip

KEPT, SECOND = Path("clips") / ("0f" * 32 + ".mp4"), Path("clips") / ("1e" * 32 + ".mov")


def test_a_renamed_error_says_the_same_of_another_name() -> None:
    error = ClipError(f"The clip {FILE} is empty (0 bytes).", path=KEPT)
    assert str(error) == f'The clip "{KEPT.name}" is empty (0 bytes).'
    assert str(error.with_name("my set.mp4")) == 'The clip "my set.mp4" is empty (0 bytes).'
    assert isinstance(error.with_name("my set.mp4"), ClipError)
    assert error.with_name("my set.mp4").path == KEPT
    assert (
        str(StoreError(f"The store {FILE} is read-only.", name="a/b.sqlite").with_name("b"))
        == "The store b is read-only."
    )


def test_control_characters_of_a_name_do_not_reach_the_screen() -> None:
    assert str(ClipError(f"{FILE} is not a file.", path=KEPT).with_name("a\x1b[31m\n.mp4")) == (
        r'"a\x1b[31m\n.mp4" is not a file.'
    )


def test_an_error_is_still_renamed_after_it_came_from_another_process() -> None:
    error = pickle.loads(pickle.dumps(ClipError(f"The clip {FILE} is empty.", path=KEPT)))
    assert str(error) == f'The clip "{KEPT.name}" is empty.'
    assert str(error.with_name("b.mp4")) == 'The clip "b.mp4" is empty.'


@pytest.mark.parametrize(
    ("path", "second_name", "name"),
    [(KEPT, "side.mov", "front.mp4"), (SECOND, "side.mov", "side.mov"), (SECOND, None, "the second clip")],
)
def test_a_job_names_the_clip_that_is_wrong(path: Path, second_name: str | None, name: str) -> None:
    request = JobRequest(str(KEPT), "front.mp4", "squat", "auto", second_path=str(SECOND), second_name=second_name)
    error = _name_clip(ClipError(f"The clip {FILE} is empty.", path=path), request)
    assert str(error) == f'The clip "{name}" is empty.'
    other = ClipError("There are no clips.")
    assert _name_clip(other, request) is other
