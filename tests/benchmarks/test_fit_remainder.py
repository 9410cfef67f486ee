"""The regression on what is left of the arms' error, against an error made by hand."""

import numpy as np
import pytest

from formcheck.signals.remainder import CUES, TAKEN, make_design


def test_regression_finds_an_error_that_follows_a_cue() -> None:
    """Errors made of one cue alone, 3 degrees a unit: a ridge that is weak against the sets leaves little of them."""
    from fit_remainder import Curve, errors, solved

    rng = np.random.default_rng(1)
    curves = []
    for number in range(200):
        true, cues = np.linspace(20.0, 150.0, 60), np.zeros((60, len(CUES)))
        cues[:, CUES.index("near")] = rng.uniform(-2.0, 2.0)
        seen = true + 3.0 * cues[:, CUES.index("near")]
        curves.append(
            Curve(str(number), True, "", "arm_raise", 1, "left", make_design("arm_raise", seen, cues), seen, true)
        )
    before, after = np.abs([errors(one, solved(curves)) for one in curves]).mean(axis=0)
    assert before == pytest.approx(3.0, abs=0.3)  # the mean of |3 x| with x even from -2 to 2
    assert after < (1 - TAKEN + 0.05) * before
