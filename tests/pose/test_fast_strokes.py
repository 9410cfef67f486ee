"""Which chunks are tracked again: strokes of a known length, and what is none."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.model import Array
from formcheck.pose.estimator import Pose
from formcheck.pose.fast_strokes import FAST_S, has_fast_stroke, list_stroke_durations
from formcheck.sandbox.sandboxed_tracking import track_clip
from formcheck.signals.skeleton import INDEX
from tests import lifter
from tests.pose.stand_in_models import GreyModel
from tests.video.clips import write_clip

RATE = 15.0


def way(*strokes: float, rest: float = 0.4, rate: float = RATE) -> tuple[Array, Array]:
    """A hand that goes up and down by 1.5 trunk lengths in so many seconds each, with a rest after each."""
    t = np.arange(0, 0.6 + sum(strokes) + rest * len(strokes), 1 / rate)
    height, begins = np.zeros(len(t)), 0.6
    for number, seconds in enumerate(strokes):
        share = lifter.minimum_jerk(np.clip((t - begins) / seconds, 0, 1))
        height += 1.5 * share * (1 if number % 2 == 0 else -1)
        begins += seconds + rest
    return t, height


@given(st.lists(st.floats(0.3, 2.5), min_size=1, max_size=6))
def test_strokes_are_timed_to_a_fraction_of_a_picture(strokes: list[float]) -> None:
    # the movement's own closed form, sampled at 15 a second
    durations = list_stroke_durations(*way(*strokes))
    assert durations == pytest.approx(strokes, abs=0.1)


@pytest.mark.parametrize(("seconds", "fast"), [(0.3, True), (0.55, False), (1.2, False)])
def test_a_lowering_that_is_rushed(seconds: float, fast: bool) -> None:
    t, height = way(1.2, 1.4, 1.2, seconds)
    film = lifter.film(t, left=10 + 50 * height, right=10 + 50 * height)
    assert has_fast_stroke(t, film.pixels, film.visibility) is fast
    hidden = film.visibility.copy()
    hidden[:, [INDEX["left_wrist"], INDEX["right_wrist"]]] = 0.2
    assert not has_fast_stroke(t, film.pixels, hidden)


def test_what_is_cut_off_or_jumps_for_a_picture_is_no_stroke() -> None:
    t, height = way(1.0, 1.0)
    middle = np.argmin(np.abs(t - 1.1))
    assert min(list_stroke_durations(t[middle:], height[middle:])) > FAST_S  # half of a slow one
    film = lifter.film(t, left=10 + 50 * height, right=10 + 50 * height)
    pixels = film.pixels.copy()
    pixels[5, INDEX["left_wrist"]] += 300.0
    assert not has_fast_stroke(t, pixels, film.visibility)


def test_nobody_and_hardly_anybody() -> None:
    t = np.arange(30) / RATE
    nobody = np.full((30, 33, 2), np.nan)
    assert not has_fast_stroke(t, nobody, np.zeros((30, 33)))
    assert not has_fast_stroke(t[:0], nobody[:0], np.zeros((0, 33)))
    film = lifter.film(t, left=0.0, right=0.0)
    assert not has_fast_stroke(t[:3], film.pixels[:3], film.visibility[:3])


class RushingModel(GreyModel):
    """Sees a lifter who drops the arms fast in the second second and raises them slowly in the fifth."""

    def detect(self, rgb: np.ndarray, t_s: float) -> Pose | None:
        dropped, raised = (np.clip((t_s - begins) / lasts, 0, 1) for begins, lasts in ((1.2, 0.3), (4.0, 1.2)))
        angle = 90 * (1 - lifter.minimum_jerk(np.array([dropped])) + lifter.minimum_jerk(np.array([raised])))
        film = lifter.film(np.array([t_s]), left=angle, right=angle)
        return Pose(film.pixels[0] * rgb.shape[1] / film.clip.width, film.world[0], film.visibility[0])


@pytest.mark.parametrize("processes", [1, 2])
def test_only_the_chunk_with_the_fast_stroke_is_tracked_at_every_picture(tmp_path: Path, processes: int) -> None:
    path = write_clip(
        tmp_path / "clip.mp4", [step / 30 for step in range(360)], codec_options={"preset": "ultrafast", "g": "5"}
    )
    made = track_clip(path, RushingModel, processes=processes, chunk_s=3.0, whole_s=4.0)
    assert np.diff(made.t[made.t < 2.9]) == pytest.approx(1 / 30, abs=1e-3)
    assert np.diff(made.t[made.t > 3.2]) == pytest.approx(1 / 15, abs=1e-3)
