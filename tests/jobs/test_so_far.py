"""What is shown of a clip while it is tracked: reps found so far, and a picture without the lifter's face."""

import base64
import io

import numpy as np
import pytest
from PIL import Image

from formcheck.analysis import analyse
from formcheck.exercises.registry import get_exercise
from formcheck.jobs.so_far import SoFarWriter, describe_so_far, read_so_far
from formcheck.pose.tracking import Track
from formcheck.sandbox.sandboxed_tracking import PartlyTracked
from formcheck.video.reader import ClipHead
from tests import lifter

EXERCISE = "lateral-raise"
SCALE = 0.25


def partly_tracked(until_s: float = 60.0) -> PartlyTracked:
    """A made-up set as far as it was tracked, in two chunks; its picture is a fine pattern, grey in the mean."""
    t = lifter.times(18.0)
    course = lifter.Set((90.0, 88.0, 91.0, 89.0)).course(t)
    film = lifter.film(t, left=course, right=course)
    rows = np.concatenate([film.pixels, film.world, film.visibility[:, :, None]], axis=2).astype(np.float32)
    half, seen = t < t[-1] / 2, t <= until_s
    parts = tuple(
        Track(t[part], t[part], rows[part], np.empty((int(part.sum()), 0))) for part in (half & seen, ~half & seen)
    )
    height, width = round(film.clip.height * SCALE), round(film.clip.width * SCALE)
    pattern = np.indices((height, width)).sum(axis=0) % 2 * 255
    picture = np.repeat(pattern[:, :, None], 3, axis=2).astype(np.uint8)
    head = ClipHead(film.clip.width, film.clip.height, "drawn", 18.0)
    last = rows[seen][-1].astype(float)
    return PartlyTracked(head, tuple(part for part in parts if len(part.t)), picture, last, float(t[seen][-1]))


def decode(address: str) -> np.ndarray:
    with Image.open(io.BytesIO(base64.b64decode(address.partition(",")[2]))) as picture:
        return np.asarray(picture.convert("L"), dtype=float)


def fineness(picture: np.ndarray) -> float:
    """How far neighbours usually differ: a pattern of single black and white pixels has 255."""
    return float(np.median(np.abs(np.diff(picture, axis=1))))


def test_the_reps_of_all_parts_are_counted_as_the_exercise_asked_for_or_the_likeliest() -> None:
    seen = partly_tracked()
    whole = len(analyse(lifter.film(lifter.times(18.0)), get_exercise(EXERCISE)).review.reps)
    asked = describe_so_far(seen, get_exercise(EXERCISE))
    assert asked.exercise == EXERCISE
    assert 3 <= asked.reps <= 4
    assert asked.reps > describe_so_far(partly_tracked(9.0), get_exercise(EXERCISE)).reps > whole
    assert describe_so_far(seen, None).exercise in (EXERCISE, None)


def test_only_the_lifters_body_is_sharp_and_nothing_where_it_is_not_known() -> None:
    seen = partly_tracked()
    shown = decode(describe_so_far(seen, None).picture)
    x, y = np.round(seen.landmarks[0, :2] * SCALE).astype(int)
    assert fineness(shown[y - 8 : y + 8, x - 8 : x + 8]) < 40  # lines of the skeleton apart
    shin = np.round(seen.landmarks[[25, 27], :2].mean(axis=0) * SCALE).astype(int)
    assert fineness(shown[shin[1] - 4 : shin[1] + 4, shin[0] + 3 : shin[0] + 9]) > 150
    for corner in (shown[-16:, :16], shown[:16, -16:], shown[-16:, -16:]):  # where others may stand
        assert fineness(corner) < 10
    lost = PartlyTracked(seen.head, seen.tracks, seen.picture, np.full((33, 6), np.nan), seen.at_s)
    assert fineness(decode(describe_so_far(lost, None).picture)) < 10


@pytest.mark.usefixtures("formcheck_home")
def test_it_lies_in_the_jobs_folder_while_the_work_goes_on_and_is_taken_away() -> None:
    from formcheck.storage.data_folder import DataFolder, data_home

    DataFolder(data_home()).job("a").mkdir(parents=True)
    assert read_so_far("a") is None
    writer = SoFarWriter("a", get_exercise(EXERCISE))
    writer.write(partly_tracked())
    assert writer._thread is not None
    writer._thread.join()
    found = read_so_far("a")
    assert found is not None
    assert found == describe_so_far(partly_tracked(), get_exercise(EXERCISE))
    writer.close()
    assert read_so_far("a") is None
