"""Which clips a browser is given as they are: only what every browser plays, with its pictures at their own times."""

import base64
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from formcheck.core.errors import ClipError
from formcheck.video import browser_playback
from formcheck.video.browser_playback import rate_playback
from formcheck.video.reader import ClipReader
from tests.video.clips import grey_levels, write_clip


def write(
    path: Path,
    *,
    codec: str = "libx264",
    form: str = "yuv420p",
    gop: int = 25,
    start: int = 0,
    size: tuple[int, int] = (96, 160),
    frames: int = 75,
) -> Path:
    """Three seconds of moving grey at 25 pictures a second."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream(codec, rate=25)
        stream.width, stream.height, stream.pix_fmt = (*size, form)
        stream.codec_context.gop_size = gop
        if codec == "libx264":
            stream.options = {"sc_threshold": "0", "preset": "ultrafast"}
        for index in range(frames):
            grey = np.full((size[1], size[0], 3), (index * 3) % 255, dtype=np.uint8)
            picture = av.VideoFrame.from_ndarray(grey, format="rgb24").reformat(format=form)
            picture.pts, picture.time_base = index + start, Fraction(1, 25)
            out.mux(stream.encode(picture))
        out.mux(stream.encode())
    return path


def test_a_plain_clip_plays_as_it_is(tmp_path: Path) -> None:
    assert rate_playback(write(tmp_path / "set.mp4")) == "well"
    assert rate_playback(write(tmp_path / "set.mov")) == "well"
    moments = [index / 25 for index in range(30)]
    assert rate_playback(write_clip(tmp_path / "sound.mp4", moments, sound=True)) == "well"


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("other-codec.mp4", {"codec": "libx265"}),
        ("full-colour.mp4", {"form": "yuv444p"}),
        ("ten-bits.mp4", {"form": "yuv420p10le"}),
        ("other-container.mkv", {}),
        ("late-start.mp4", {"start": 20}),
        ("far-too-large.mp4", {"size": (4000, 64), "frames": 10}),
    ],
)
def test_what_some_browser_would_not_play_is_made_anew(tmp_path: Path, name: str, options: dict[str, int]) -> None:
    assert rate_playback(write(tmp_path / name, **options)) == "not"  # type: ignore[arg-type]


def test_sound_that_not_every_browser_knows_has_the_clip_made_anew(tmp_path: Path) -> None:
    silent = write(tmp_path / "silent.mov")
    with av.open(str(silent)) as source, av.open(str(tmp_path / "set.mov"), "w") as out:
        video = out.add_stream_from_template(source.streams.video[0])
        sound = out.add_stream("pcm_s16le", rate=16_000, layout="mono")
        for packet in source.demux(video=0):
            if packet.dts is not None:
                packet.stream = video
                out.mux(packet)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 16_000), dtype=np.int16), format="s16", layout="mono")
        frame.sample_rate, frame.pts = 16_000, 0
        out.mux(sound.encode(frame))
        out.mux(sound.encode())
    assert rate_playback(tmp_path / "set.mov") == "not"


def test_a_large_clip_plays_until_its_film_is_there(tmp_path: Path) -> None:
    assert rate_playback(write(tmp_path / "wide.mp4", size=(2560, 64), frames=30)) == "slowly"


def test_what_a_seek_has_to_decode_counts_in_pixels_between_two_key_pictures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = write(tmp_path / "set.mp4", gop=25)  # three key pictures in 75 of 96 x 160 pixels
    monkeypatch.setattr(browser_playback, "SEEK_PIXELS", 25 * 96 * 160)
    assert rate_playback(clip) == "well"
    assert rate_playback(write(tmp_path / "few.mp4", gop=75)) == "slowly"


def test_a_file_too_large_to_hand_over_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = write(tmp_path / "set.mp4")
    monkeypatch.setattr(browser_playback, "LARGEST_BYTES", clip.stat().st_size - 1)
    assert rate_playback(clip) == "slowly"
    monkeypatch.setattr(browser_playback, "LARGEST_SLOW_BYTES", clip.stat().st_size - 1)
    assert rate_playback(clip) == "not"


def test_what_is_no_clip_is_told(tmp_path: Path) -> None:
    (tmp_path / "set.mp4").write_text("words")
    with pytest.raises(ClipError):
        rate_playback(tmp_path / "set.mp4")


def test_a_turned_clip_plays_as_it_is_but_not_a_mirrored_one(tmp_path: Path) -> None:
    moments = [index / 25 for index in range(10)]
    turned = write_clip(tmp_path / "turned.mp4", moments, rotation=(90.0, False, False))
    mirrored = write_clip(tmp_path / "mirrored.mp4", moments, rotation=(0.0, True, False))
    both = write_clip(tmp_path / "both.mp4", moments, rotation=(0.0, True, True))  # half a turn
    assert [rate_playback(clip) for clip in (turned, mirrored, both)] == ["well", "not", "well"]


@pytest.mark.browser
@pytest.mark.parametrize("codec_options", [{"bf": "0"}, {"bf": "3"}])
def test_the_browser_shows_a_clip_of_variable_rate_at_the_times_its_landmarks_have(
    tmp_path: Path, browser: Any, codec_options: dict[str, str]
) -> None:
    """Turned as a phone held upright writes it, and with sound: each picture tells its number by its grey."""
    steps = [0.033, 0.034, 0.05, 0.017, 0.1, 0.033, 0.041, 0.066]
    moments = [sum(steps[index % 8] for index in range(count)) for count in range(60)]
    clip = write_clip(
        tmp_path / "set.mp4",
        moments,
        size=(160, 96),
        picture=grey_levels,
        rotation=(90.0, False, False),
        sound=True,
        codec_options={"preset": "ultrafast", **codec_options},
    )
    assert rate_playback(clip) == "well"
    with ClipReader(clip) as reader:
        read = [(t, float(rgb.mean()), rgb.shape[:2]) for t, rgb in reader]
    page = browser.new_page()
    page.set_content(
        f'<video muted src="data:video/mp4;base64,{base64.b64encode(clip.read_bytes()).decode()}"></video>'
    )
    page.wait_for_function("document.querySelector('video').readyState >= 2")
    for index in (0, 3, 4, 11, 29, 44, 58):
        t, grey, (height, width) = read[index]
        shown = page.evaluate(_SHOW_PICTURE, (t + read[index + 1][0]) / 2)
        assert shown["time"] == pytest.approx(t, abs=1e-3)
        assert shown["grey"] == pytest.approx(grey, abs=1.5)
        assert (shown["height"], shown["width"]) == (height, width)
    page.close()


_SHOW_PICTURE = """async (t) => {
    const video = document.querySelector("video");
    const shown = new Promise((done) => video.requestVideoFrameCallback((_, picture) => done(picture)));
    const there = new Promise((done) => { video.onseeked = done; });
    video.currentTime = t;
    const picture = await shown;
    await there;
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [8, 8];
    const context = canvas.getContext("2d");
    context.drawImage(video, 0, 0, 8, 8);
    const grey = context.getImageData(4, 4, 1, 1).data[0];
    return { time: picture.mediaTime, grey, width: video.videoWidth, height: video.videoHeight };
}"""
