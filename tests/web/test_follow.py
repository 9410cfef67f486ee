"""The window around the lifter: it holds what is reached, and moves only when the lifter does."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.model import LandmarkRecording, Rep
from formcheck.web.components.player.follow import find_lifter_window
from tests.web.synthetic import synthetic_analysis, synthetic_recording

REPS: tuple[Rep, ...] = synthetic_analysis().review.reps


@pytest.fixture(scope="module")
def recording() -> LandmarkRecording:
    return synthetic_recording(synthetic_analysis())


def test_a_lifter_who_stays_is_shown_in_one_window_with_all_that_is_reached(recording: LandmarkRecording) -> None:
    window = find_lifter_window(recording, REPS)
    assert window is not None
    assert len({(x, y) for _, x, y in window["path"]}) <= 2
    _, x, y = window["path"][-1]
    during = (recording.t >= REPS[0].start_s) & (recording.t <= REPS[-1].end_s)
    reached = recording.pixels[during]
    assert x - window["width"] / 2 < np.percentile(reached[..., 0], 1)
    assert x + window["width"] / 2 > np.percentile(reached[..., 0], 99)
    assert y - window["height"] / 2 < reached[..., 1].min()
    assert y + window["height"] / 2 > reached[..., 1].max()
    standing = float(np.ptp(reached[0, :, 1]))
    assert standing / window["height"] >= 0.6


def test_the_window_goes_with_a_lifter_who_walks(recording: LandmarkRecording) -> None:
    """300 pixels to the right in the middle of the set; the window's size is that of the reps, not of the walk."""
    still = find_lifter_window(recording, REPS)
    begin, end = REPS[2].end_s, REPS[2].end_s + 1.0
    moved = np.array(recording.pixels)
    moved[:, :, 0] += (300 * np.clip((recording.t - begin) / (end - begin), 0, 1))[:, None]
    wide = replace(recording, pixels=moved, clip=replace(recording.clip, width=1920))
    window = find_lifter_window(wide, REPS)
    assert still is not None
    assert window is not None
    assert window["width"] < still["width"] + 330
    first, last = window["path"][0], window["path"][-1]
    assert last[1] - first[1] == pytest.approx(300, abs=0.2 * window["width"])
    times = [t for t, _, _ in window["path"]]
    assert times == sorted(times)


def test_nobody_seen_has_no_window(recording: LandmarkRecording) -> None:
    unseen = replace(recording, visibility=np.zeros_like(recording.visibility))
    assert find_lifter_window(unseen, REPS) is None
    gone = replace(recording, pixels=np.full_like(recording.pixels, np.nan))
    assert find_lifter_window(gone) is None
