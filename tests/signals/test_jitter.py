"""How much landmarks shake. Expected values are the standard deviation of noise that was put in (closed form)."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import butter, sosfreqz

from formcheck.core.model import CameraView, LandmarkRecording, Quality, Settings
from formcheck.measures.margins import USUAL_JITTER, compute_margin
from formcheck.signals.filtering import compute_dual_pass_cutoff
from formcheck.signals.jitter import measure_jitter
from formcheck.signals.skeleton import INDEX
from tests.lifter import Set, film, times

SETTINGS = Settings()
FRONT = CameraView("front", 0.0, 8.0, "given")


def filmed() -> LandmarkRecording:
    plan = Set((90.0,) * 3)
    t = times(plan.length_s)
    return film(t, left=plan.course(t), right=plan.course(t))


def shaken(sd_px: float, seed: int = 1) -> LandmarkRecording:
    recording = filmed()
    noise = np.random.default_rng(seed).normal(0, sd_px, recording.pixels.shape)
    return replace(recording, pixels=recording.pixels + noise)


def trunk_px(recording: LandmarkRecording) -> float:
    middle = {
        part: (recording.pixels[:, INDEX[f"left_{part}"]] + recording.pixels[:, INDEX[f"right_{part}"]]) / 2
        for part in ("shoulder", "hip")
    }
    return float(np.median(np.linalg.norm(middle["shoulder"] - middle["hip"], axis=1)))


def test_noise_put_in_comes_out_as_much_as_the_filter_lets_through() -> None:
    """White noise of sd s in x and y: √2·s, times the root mean square of 1 - |H|² over all frequencies."""
    recording = shaken(4.0)
    rate = recording.clip.frame_rate
    sos = butter(2, compute_dual_pass_cutoff(SETTINGS.cutoff_hz, rate), fs=rate, output="sos")
    kept = np.abs(sosfreqz(sos, 4096)[1]) ** 2
    expected = np.sqrt(2) * 4.0 * np.sqrt(np.mean((1 - kept) ** 2)) / trunk_px(recording)
    assert measure_jitter(recording, SETTINGS) == pytest.approx(expected, rel=0.06)


def test_movement_is_no_shaking() -> None:
    still = measure_jitter(filmed(), SETTINGS)
    assert still is not None
    assert still < 0.2 * USUAL_JITTER


def test_unknown_where_nobody_is_seen_or_pictures_are_too_few() -> None:
    recording = filmed()
    nobody = replace(recording, pixels=np.full_like(recording.pixels, np.nan))
    assert measure_jitter(nobody, SETTINGS) is None
    slow = replace(recording, clip=replace(recording.clip, frame_rate=12.0))
    assert measure_jitter(slow, SETTINGS) is None


def margin(jitter: float | None, measure: str = "path_deviation") -> float:
    found = compute_margin(measure, 0.0, FRONT, Quality(1.0, 30.0, 800.0, {}, {}, (), jitter))
    assert found is not None
    return found


def test_margins_of_what_shaking_moves_go_with_it() -> None:
    """The table says to the power of 0.75; ten times the shaking is the most that counts, and less narrows none."""
    assert margin(USUAL_JITTER) == margin(None)
    assert margin(USUAL_JITTER / 2) == margin(None)
    assert margin(USUAL_JITTER * 4) == pytest.approx(margin(None) * 4**0.75)
    assert margin(USUAL_JITTER * 40) == pytest.approx(margin(None) * 10**0.75)
    assert margin(USUAL_JITTER * 4, "arm_raise_peak") == margin(None, "arm_raise_peak")
