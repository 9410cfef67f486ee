"""A part of a set as a film of its own, read back with PyAV: its length, its pictures, no sound, nothing said in it."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import av
import numpy as np
import pytest

from formcheck.core.errors import OutputError, UsageError
from formcheck.core.model import Analysis
from formcheck.exercises.registry import get_exercise
from formcheck.report.front_page import SetContext
from formcheck.services.excerpt import ABOUT_S, SPARE_S, ExcerptWish, find_part, write_excerpt
from formcheck.services.review_outputs import ReviewOutputs
from tests.web.synthetic import RATE, synthetic_analysis, synthetic_recording

ANALYSIS = synthetic_analysis()
REP = ANALYSIS.review.reps[2]
OF_FORMAT = {"major_brand", "minor_version", "compatible_brands"}
"""What every MP4 file has (ISO/IEC 14496-12, file type box)."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ReviewOutputs:
    """The made-up set with a film whose brightness tells the time, with sound and with a place written into it."""
    path = tmp_path_factory.mktemp("clip") / "set.mp4"
    t = ANALYSIS.signals.t
    with av.open(str(path), "w") as container:
        container.metadata["title"] = "At home, by somebody"
        video = container.add_stream("libx264", rate=int(RATE), options={"preset": "ultrafast"})
        video.width, video.height, video.pix_fmt = 152, 270, "yuv420p"
        audio = container.add_stream("aac", rate=48_000, layout="mono")
        for at_s in t:
            picture = np.full((270, 152, 3), 40 + 7 * at_s, np.uint8)
            container.mux(video.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(video.encode())
        tone = 0.3 * np.sin(2 * np.pi * 440 * np.arange(int(t[-1] * 48_000)) / 48_000)
        for start in range(0, len(tone) - 1024, 1024):
            sound = av.AudioFrame.from_ndarray(tone[None, start : start + 1024].astype("f4"), "fltp", "mono")
            sound.rate, sound.pts = 48_000, start
            container.mux(audio.encode(sound))
        container.mux(audio.encode())
    return outputs(ANALYSIS, path)


def outputs(analysis: Analysis, clip: Path | None) -> ReviewOutputs:
    exercise, context = get_exercise("lateral-raise"), SetContext("Mira Holt", date(2026, 11, 23), 1)
    return ReviewOutputs(analysis, synthetic_recording(analysis), exercise, clip, None, context=context)


def read(path: Path) -> tuple[list[float], list[float], "av.container.InputContainer"]:
    container = av.open(str(path))
    frames = list(container.decode(video=0))
    levels = [float(frame.to_ndarray(format="rgb24")[-20:].mean()) for frame in frames]
    return [float(frame.time) for frame in frames], levels, container


@pytest.mark.parametrize("speed", [0.25, 0.5, 1.0])
def test_a_rep_is_cut_out_and_slowed_without_making_up_pictures(
    made: ReviewOutputs, tmp_path: Path, speed: float
) -> None:
    out = tmp_path / "rep.mp4"
    write_excerpt(made, ExcerptWish(rep=3, speed=speed, skeleton=False), out)
    times, levels, container = read(out)
    length = REP.end_s - REP.start_s + 2 * SPARE_S
    assert len(times) == pytest.approx(length * RATE, abs=2)
    assert times[0] == 0.0
    assert times[-1] == pytest.approx(length / speed, abs=2 / RATE / speed)
    # The first picture is from before the rep, the last from behind it; 2 of 255 are lost in coding.
    assert levels[0] == pytest.approx(40 + 7 * (REP.start_s - SPARE_S), abs=2)
    assert levels[-1] == pytest.approx(40 + 7 * (REP.end_s + SPARE_S), abs=2)
    assert not container.streams.audio
    assert set(container.metadata) == OF_FORMAT
    assert b"somebody" not in out.read_bytes()


def test_a_moment_with_sound_and_a_title_has_them_only_when_asked(made: ReviewOutputs, tmp_path: Path) -> None:
    out = tmp_path / "moment.mp4"
    write_excerpt(made, ExcerptWish(at_s=6.0, speed=1.0, sound=True, described=True), out)
    times, _, container = read(out)
    assert times[-1] == pytest.approx(2 * ABOUT_S, abs=0.1)
    (sound,) = container.streams.audio
    assert float(sound.duration * sound.time_base) == pytest.approx(2 * ABOUT_S, abs=0.1)
    assert container.metadata["title"] == f"{ANALYSIS.review.exercise.name}, 0:06.0, 2026-11-23"
    assert set(container.metadata) == OF_FORMAT | {"title"}
    assert "Mira" not in container.metadata["title"]


def test_the_skeleton_is_in_it_unless_not_wanted(made: ReviewOutputs, tmp_path: Path) -> None:
    spread = {}
    for drawn in (True, False):
        out = tmp_path / f"{drawn}.mp4"
        write_excerpt(made, ExcerptWish(at_s=6.0, skeleton=drawn), out)
        with av.open(str(out)) as container:
            spread[drawn] = float(np.ptp(next(container.decode(video=0)).to_ndarray(format="rgb24").astype(int)))
    assert spread[True] > 80 > 20 > spread[False]


@pytest.mark.parametrize(
    ("wish", "why"),
    [
        (ExcerptWish(), "one rep or of one moment"),
        (ExcerptWish(rep=1, at_s=2.0), "one rep or of one moment"),
        (ExcerptWish(rep=99), "no rep 99"),
        (ExcerptWish(at_s=1e6), "is not in it"),
        (ExcerptWish(at_s=float("nan")), "is not in it"),
        (ExcerptWish(rep=1, speed=3.0), "one of 0.25, 0.5, 1"),
        (ExcerptWish(rep=1, speed=0.5, sound=True), "full speed only"),
    ],
)
def test_what_cannot_be_cut_out_is_told(wish: ExcerptWish, why: str) -> None:
    with pytest.raises(UsageError, match=why):
        find_part(ANALYSIS.review, wish)


def test_nothing_before_the_clip_or_behind_it_is_asked_for() -> None:
    early = find_part(ANALYSIS.review, ExcerptWish(at_s=0.2))
    late = find_part(ANALYSIS.review, ExcerptWish(at_s=ANALYSIS.review.clip.duration_s))
    assert early.start_s == 0.0
    assert late.end_s == ANALYSIS.review.clip.duration_s


def test_without_the_clip_it_says_so(tmp_path: Path) -> None:
    gone = replace(outputs(ANALYSIS, None))
    with pytest.raises(OutputError, match="not where it was"):
        write_excerpt(gone, ExcerptWish(rep=1), tmp_path / "x.mp4")
