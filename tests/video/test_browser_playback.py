"""Which clips a browser is given as they are: only what every browser plays, at its own times, with fast seeking."""

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from formcheck.core.errors import ClipError
from formcheck.video import browser_playback
from formcheck.video.browser_playback import plays_in_browser
from tests.video.clips import write_clip


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
    assert plays_in_browser(write(tmp_path / "set.mp4"))
    assert plays_in_browser(write(tmp_path / "set.mov"))


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("other-codec.mp4", {"codec": "libx265"}),
        ("full-colour.mp4", {"form": "yuv444p"}),
        ("other-container.mkv", {}),
        ("late-start.mp4", {"start": 20}),
        ("few-key-pictures.mp4", {"gop": 250}),
        ("large.mp4", {"size": (2560, 64), "frames": 30}),
    ],
)
def test_what_some_browser_would_not_play_or_seek_is_made_anew(
    tmp_path: Path, name: str, options: dict[str, int]
) -> None:
    assert not plays_in_browser(write(tmp_path / name, **options))  # type: ignore[arg-type]


def test_a_file_too_large_to_hand_over_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = write(tmp_path / "set.mp4")
    monkeypatch.setattr(browser_playback, "LARGEST_BYTES", clip.stat().st_size - 1)
    assert not plays_in_browser(clip)


def test_what_is_no_clip_is_told(tmp_path: Path) -> None:
    (tmp_path / "set.mp4").write_text("words")
    with pytest.raises(ClipError):
        plays_in_browser(tmp_path / "set.mp4")


def test_a_turned_clip_plays_as_it_is_but_not_a_mirrored_one(tmp_path: Path) -> None:
    moments = [index / 25 for index in range(10)]
    turned = write_clip(tmp_path / "turned.mp4", moments, rotation=(90.0, False, False))
    mirrored = write_clip(tmp_path / "mirrored.mp4", moments, rotation=(0.0, True, False))
    both = write_clip(tmp_path / "both.mp4", moments, rotation=(0.0, True, True))  # half a turn
    assert [plays_in_browser(clip) for clip in (turned, mirrored, both)] == [True, False, True]
