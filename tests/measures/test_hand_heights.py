"""Hands left against right at the top, where a landmark jumps; what a row of margins adds by itself for the yaw."""

import numpy as np
import pytest

from formcheck.core.model import CameraView, Quality, Rep, Signals, Tempo
from formcheck.measures.margins import widen_margin
from formcheck.measures.per_rep import READERS
from formcheck.measures.window import Value, Window

QUALITY = Quality(1.0, 30.0, 800.0, {}, {}, (), None)


def test_a_landmark_that_jumps_at_the_top_does_not_lower_a_hand() -> None:
    """Hands 4 degrees apart all through but a quarter of a second, in which one seems 70 degrees lower."""
    t = np.linspace(0, 4, 121)
    curve = np.where(np.abs(t - 2.0) < 0.125, -70.0, 4.0)
    rep = Rep(1, 1.0, 2.0, 3.0, True, Tempo(1.0, 0.0, 1.0, 0.0))
    window = Window(rep, Signals(t, {("hand_height_difference", None): curve}), t, last=True)
    read = READERS["hand_height_difference_top"](window, None)
    assert isinstance(read, Value)
    assert read.value == pytest.approx(4.0)


def test_a_row_may_add_for_the_yaw_what_others_of_its_measure_do_not() -> None:
    """As independent errors add up: 3 and 0.4 times 10 degrees make 5; the measure's other row keeps its 3."""
    row = {"frontal": 3.0, "frontal_out_of_plane": 3.0, "frontal_out_of_plane_per_yaw_deg": 0.4}
    turned = CameraView("front", 10.0, 8.0, "estimated")
    got = [widen_margin("torso_side_lean_range", row, key, 2.0, turned, QUALITY) for key in row if key[-3:] != "deg"]
    assert got == pytest.approx([3.0, 5.0])
