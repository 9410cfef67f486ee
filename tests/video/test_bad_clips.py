"""Everything that is no clip ends in one sentence that says why."""

import gzip
import io
import re
import tarfile
import zipfile
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from formcheck.core.errors import ClipError, FormcheckError, quote_name
from formcheck.video.clip_file import ClipLimits
from formcheck.video.reader import ClipReader
from tests.facts import says
from tests.video.clips import quarters, write_clip, write_sound


def refusal(path: Path, limits: ClipLimits | None = None) -> str:
    """The sentence with which a clip is refused."""
    with pytest.raises(ClipError) as caught, ClipReader(path, limits=limits) as reader:
        for _ in reader:
            pass
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    assert path.name[:4] in sentence
    return sentence


def test_missing(tmp_path: Path) -> None:
    assert says(refusal(tmp_path / "nothing.mp4"), "nothing.mp4", "not exist")
    assert "does not exist" in refusal(tmp_path / "zero\0byte.mp4")
    assert "cannot be read" in refusal(tmp_path / ("x" * 300 + ".mp4"))


def test_folder(tmp_path: Path) -> None:
    folder = tmp_path / "folder.mp4"
    folder.mkdir()
    assert says(refusal(folder), "folder.mp4", "folder", "not a clip")


def test_empty(tmp_path: Path) -> None:
    path = tmp_path / "empty.mp4"
    path.touch()
    assert says(refusal(path), "empty.mp4", "empty", "0 bytes")


@pytest.mark.parametrize("name", ["notes.txt", "notes.mp4", "notes.srt", "list.m3u8", "script.ffconcat"])
def test_text(tmp_path: Path, name: str) -> None:
    texts = {
        "notes.srt": "1\n00:00:00,000 --> 00:00:01,000\nhello\n",
        "list.m3u8": "#EXTM3U\n#EXTINF:10,\nother.mp4\n",
        "script.ffconcat": "ffconcat version 1.0\nfile other.mp4\n",
    }
    write_clip(tmp_path / "other.mp4", [0, 0.1])
    path = tmp_path / name
    path.write_text(texts.get(name, "four sets of nine\n" * 40))
    assert says(refusal(path), name, "not a video")


def test_random_bytes(tmp_path: Path) -> None:
    path = tmp_path / "random.mp4"
    path.write_bytes(np.random.default_rng(1).bytes(50_000))
    assert says(refusal(path), "random.mp4", "not a video")


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "BMP", "WEBP", "GIF", "TIFF"])
@pytest.mark.parametrize("suffix", [None, ".mp4"])
def test_picture(tmp_path: Path, kind: str, suffix: str | None) -> None:
    path = tmp_path / f"still{suffix or '.' + kind.lower()}"
    Image.fromarray(quarters(64, 48)).save(path, format=kind)
    assert says(refusal(path), path.name, "picture", "not a video")


def test_archives(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "inside.mp4", [0, 0.1])
    with zipfile.ZipFile(tmp_path / "clips.zip", "w") as archive:
        archive.write(clip)
    with tarfile.open(tmp_path / "clips.tar", "w") as tar:
        tar.add(clip, "inside.mp4")
    (tmp_path / "clip.mp4.gz").write_bytes(gzip.compress(clip.read_bytes()))
    for name in ("clips.zip", "clips.tar", "clip.mp4.gz"):
        renamed = (tmp_path / name).rename(tmp_path / f"{name}.mp4")
        assert "is an archive, not a video" in refusal(renamed)


def test_sound_only(tmp_path: Path) -> None:
    for name in ("voice.mp4", "voice.mkv", "voice.m4a"):
        assert says(refusal(write_sound(tmp_path / name)), name, "only sound")


def test_sound_with_a_cover_picture(tmp_path: Path) -> None:
    import av

    cover = io.BytesIO()
    Image.fromarray(quarters(64, 48)).save(cover, format="PNG")
    sound = write_sound(tmp_path / "plain.m4a")
    path = tmp_path / "cover.m4a"
    with av.open(str(sound)) as source, av.open(str(path), "w", format="mp4") as target:
        audio = target.add_stream_from_template(source.streams.audio[0])
        picture = target.add_stream("png")
        picture.width, picture.height, picture.pix_fmt = 64, 48, "rgb24"
        picture.disposition = av.stream.Disposition.attached_pic
        packet = av.Packet(cover.getvalue())
        packet.stream = picture
        packet.pts = packet.dts = 0
        target.mux(packet)
        for part in source.demux(audio=0):
            if part.dts is not None:
                part.stream = audio
                target.mux(part)
    with av.open(str(path)) as made:
        assert made.streams.video
    assert says(refusal(path), "cover.m4a", "only sound")


def test_single_frame(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "single.mp4", [0.0])
    assert says(refusal(path), "single.mp4", "single frame")


def test_track_without_frames(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "bare.mkv", [i / 30 for i in range(10)])
    data = path.read_bytes()
    cluster = data.index(b"\x1f\x43\xb6\x75")  # Matroska's cluster element: from here on the pictures
    path.write_bytes(data[:cluster])
    assert "No picture" in refusal(path) or "cut off" in refusal(path)


def test_cut_off_with_nothing_left(tmp_path: Path) -> None:
    times = [i / 30 for i in range(30)]
    index_last = write_clip(tmp_path / "index-last.mp4", times)
    data = index_last.read_bytes()
    index_last.write_bytes(data[: data.index(b"moov") - 8])
    assert "cut off or damaged" in refusal(index_last)
    index_first = write_clip(tmp_path / "index-first.mp4", times, container_options={"movflags": "+faststart"})
    data = index_first.read_bytes()
    index_first.write_bytes(data[: data.index(b"mdat") + 4])
    assert "No picture" in refusal(index_first)


def test_limits(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "clip.mp4", [i / 30 for i in range(60)])
    assert "too large: " in refusal(path, ClipLimits(max_bytes=100))
    assert "the limit is 100 bytes" in refusal(path, ClipLimits(max_bytes=100))
    assert "too long" in refusal(path, ClipLimits(max_duration_s=1.0))
    assert "64 × 48 pixels" in refusal(path, ClipLimits(max_side=50))
    with ClipReader(path, limits=ClipLimits(max_duration_s=2.5)) as reader:
        assert len(list(reader)) == 60


def test_default_limits_are_those_of_the_page_on_safety(root: Path) -> None:
    text = " ".join((root / "docs" / "safety.md").read_text(encoding="utf-8").split())
    told = re.search(r"at most (\d+) minutes, (\d+) GiB and (\d+) pixels a side", text)
    assert told is not None
    minutes, gibibytes, side = map(int, told.groups())
    limits = ClipLimits()
    assert (limits.max_duration_s, limits.max_bytes, limits.max_side) == (60 * minutes, gibibytes * 2**30, side)
    assert side >= 7680  # 8K


def test_names_are_shown_in_one_line() -> None:
    assert quote_name(Path("a\nb\x1b[31m.mp4")) == '"a\\nb\\x1b[31m.mp4"'
    assert quote_name(Path("Übung 5.mp4")) == '"Übung 5.mp4"'


@given(data=st.data())
@settings(max_examples=40)
def test_changed_and_cut_clips_end_in_frames_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("changed")
    original = write_clip(folder / "clip.mp4", [i / 30 for i in range(12)], picture=quarters).read_bytes()
    content = bytearray(original)
    for _ in range(data.draw(st.integers(0, 6))):
        content[data.draw(st.integers(0, len(original) - 1))] = data.draw(st.integers(0, 255))
    path = folder / "changed.mp4"
    path.write_bytes(content[: data.draw(st.integers(1, len(original))) if data.draw(st.booleans()) else None])
    read = 0
    with suppress(FormcheckError), ClipReader(path) as reader:
        t = [frame.t for frame in reader]
        assert len(t) >= 2
        assert np.all(np.diff(t) > 0)
        read = len(t)
    assert read == 12 or path.read_bytes() != original
