"""Reading clips: times, orientation, pixel shape, damage, memory."""

import hashlib
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.errors import ClipError
from formcheck.pose.tracking import is_rate_variable
from formcheck.video.clip_file import ClipLimits
from formcheck.video.orientation import Orientation, compute_square_pixel_size, fit_size, make_orientation
from formcheck.video.read_ahead import read_ahead
from formcheck.video.reader import ClipReader
from tests.in_process import track_here
from tests.video.clips import BLUE, GREEN, RED, WHITE, FakeEstimator, grey_levels, quarters, write_clip


def times_of(path: Path) -> list[float]:
    with ClipReader(path) as reader:
        return [t for t, _ in reader]


def corners(rgb: np.ndarray) -> list[tuple[int, int, int]]:
    """The named colour nearest to the middle of each quarter, reading order."""
    height, width = rgb.shape[:2]
    points = [(height // 4, width // 4), (height // 4, 3 * width // 4)]
    points += [(3 * height // 4, width // 4), (3 * height // 4, 3 * width // 4)]
    named = (RED, GREEN, BLUE, WHITE)
    return [min(named, key=lambda c: np.abs(rgb[p].astype(int) - c).sum()) for p in points]


@pytest.mark.parametrize("suffix", [".mp4", ".mkv", ".mov"])
def test_variable_rate_times_are_the_written_ones(tmp_path: Path, suffix: str) -> None:
    steps = np.array([33, 34, 50, 20, 17, 100, 33, 40, 60, 33]) / 1000
    written = np.concatenate([[0], np.cumsum(steps)])
    path = write_clip(tmp_path / f"clip{suffix}", list(written))
    assert times_of(path) == pytest.approx(list(written), abs=0.0006)  # mkv keeps milliseconds


@pytest.mark.parametrize("codec", ["mpeg4", "mjpeg"])
def test_a_container_without_presentation_times(tmp_path: Path, codec: str) -> None:
    # AVI keeps a rate only
    pix_fmt = "yuvj420p" if codec == "mjpeg" else "yuv420p"
    written = [i / 25 for i in range(12)]
    path = write_clip(tmp_path / "clip.avi", written, codec=codec, pix_fmt=pix_fmt, ticks=25, codec_options={})
    assert times_of(path) == pytest.approx(written, abs=1e-6)


@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_first_shown_frame_has_time_zero(tmp_path: Path, suffix: str) -> None:
    path = write_clip(tmp_path / f"late{suffix}", [5.0 + i / 25 for i in range(10)])
    assert times_of(path) == pytest.approx([i / 25 for i in range(10)], abs=0.0006)


def test_facts_of_a_clip_follow_from_its_pictures(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "clip.mp4", [i / 25 for i in range(51)], sound=True)
    with ClipReader(path) as reader:
        assert sum(1 for _ in reader) == 51
        with pytest.raises(ValueError, match="once"):
            next(iter(reader))
    info = track_here(path, FakeEstimator).clip
    assert (info.name, info.width, info.height, info.frames, info.codec) == ("clip.mp4", 64, 48, 51, "h264")
    assert info.frame_rate == pytest.approx(25)
    assert info.duration_s == pytest.approx(51 / 25)
    assert not info.variable_rate
    assert info.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        (np.full(100, 1 / 30), False),
        (np.tile([0.033, 0.033, 0.034], 30), False),  # 30 a second in milliseconds
        (np.tile([0.004, 0.004, 0.005], 30), False),  # 240 a second in milliseconds
        (np.where(np.arange(100) == 50, 2 / 30, 1 / 30), False),  # one frame lost
        (np.tile([1 / 30, 1 / 30, 1 / 24, 1 / 20], 25), True),
    ],
)
def test_variable_rate(steps: np.ndarray, expected: bool) -> None:
    assert is_rate_variable(steps) is expected


def test_repeated_time_stamps_are_left_out(tmp_path: Path) -> None:
    # matroska keeps milliseconds: two of these frames fall on each
    written = [i * 0.0005 for i in range(20)] + [0.1, 0.2]
    path = write_clip(tmp_path / "dense.mkv", written, picture=grey_levels)
    t = times_of(path)
    assert np.all(np.diff(t) > 0)
    assert len(t) < len(written)
    assert t[-1] == pytest.approx(0.2, abs=0.001)


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
@pytest.mark.parametrize("mirror", [(False, False), (True, False), (False, True)])
def test_orientation_is_applied(tmp_path: Path, degrees: int, mirror: tuple[bool, bool]) -> None:
    # numpy's rot90 turns counter-clockwise, as the display matrix's rotation is counted; mirrors follow the turn
    expected = np.rot90(quarters(64, 48), degrees // 90)
    expected = expected[:, ::-1] if mirror[0] else expected
    expected = expected[::-1] if mirror[1] else expected
    path = write_clip(tmp_path / "turned.mp4", [0, 0.1, 0.2], rotation=(degrees, *mirror))
    with ClipReader(path) as reader:
        frames = [frame.rgb for frame in reader]
        assert (reader.height, reader.width) == expected.shape[:2]
    assert all(frame.shape == expected.shape and frame.flags.c_contiguous for frame in frames)
    assert corners(frames[0]) == corners(expected)


def test_orientation_of_every_matrix_moves_points_as_the_standard_says() -> None:
    # ISO/IEC 14496-12: (x, y) is shown at (a x + c y, b x + d y), up to a shift
    for a, b, c, d in [(1, 0, 0, 1), (-1, 0, 0, 1), (1, 0, 0, -1), (-1, 0, 0, -1)] + [
        (0, b, c, 0) for b in (1, -1) for c in (1, -1)
    ]:
        stored = quarters(8, 6)
        shown = make_orientation(a * 65536, b * 65536, c * 65536, d * 65536).apply(stored)
        columns, rows = np.meshgrid(np.arange(8), np.arange(6))
        x, y = a * columns + c * rows, b * columns + d * rows
        x, y = x - x.min(), y - y.min()
        assert np.array_equal(shown[y, x], stored)


def test_upright_picture_is_handed_on_unchanged() -> None:
    assert np.array_equal(Orientation().apply(quarters(8, 6)), quarters(8, 6))


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (Fraction(4, 3), (960, 540)),  # 720 × 540 stored, anamorphic
        (Fraction(1, 2), (720, 1080)),
        (Fraction(1), (720, 540)),
        (None, (720, 540)),
        (Fraction(100, 1), (720, 540)),  # nonsense is ignored
        (Fraction(0, 1), (720, 540)),
    ],
)
def test_square_pixels(shape: Fraction | None, expected: tuple[int, int]) -> None:
    assert compute_square_pixel_size(720, 540, shape) == expected


def test_pixel_shape_is_applied_before_turning(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "dv.mp4", [0, 0.1], pixel_shape=Fraction(3, 2), rotation=(90, False, False))
    with ClipReader(path) as reader:
        assert (reader.width, reader.height) == (48, 96)
        assert next(iter(reader)).rgb.shape == (96, 48, 3)


@pytest.mark.parametrize(
    ("size", "pix_fmt"), [((16, 16), "yuv420p"), ((17, 13), "yuv444p"), ((300, 50), "yuv420p10le")]
)
def test_sizes_and_depths(tmp_path: Path, size: tuple[int, int], pix_fmt: str) -> None:
    path = write_clip(tmp_path / "odd.mp4", [0, 0.1, 0.2], size=size, pix_fmt=pix_fmt)
    with ClipReader(path) as reader:
        frames = list(reader)
    assert [f.rgb.shape for f in frames] == [(size[1], size[0], 3)] * 3
    assert corners(frames[0].rgb) == corners(quarters(*size))


def test_large_pictures_are_scaled_and_full_size_is_told(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "large.mp4", [0, 0.1], size=(1600, 1200))
    with ClipReader(path) as reader:
        assert (reader.width, reader.height) == (1600, 1200)
        rgb = next(iter(reader)).rgb
        assert rgb.shape == (960, 1280, 3)
        assert corners(rgb) == [RED, GREEN, BLUE, WHITE]
        assert np.abs(rgb[240, 320].astype(int) - RED).max() < 12
    with ClipReader(path, max_side=None) as reader:
        assert next(iter(reader)).rgb.shape == (1200, 1600, 3)
    assert fit_size(100, 50, 1280) == (100, 50)


def test_metadata_that_is_not_text_does_not_matter(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "meta.mp4", [0, 0.1, 0.2], metadata={"title": "PLACEHOLDER"})
    data = path.read_bytes()
    assert b"PLACEHOLDER" in data
    path.write_bytes(data.replace(b"PLACEHOLDER", b"\xff\xfe\xc3\x28" + b"\xa0" * 7))
    assert len(times_of(path)) == 3


def test_names_that_look_like_something_else(tmp_path: Path) -> None:
    for name in (
        "concat:a.mp4",
        "http:b.mp4",
        "-i.mp4",
        "line\nbreak.mp4",
        "Übung 'ü'.mp4",
        "%03d.mp4",
        b"\xff\xfe.mp4",
    ):
        path = tmp_path / (name if isinstance(name, str) else name.decode(errors="surrogateescape"))
        made = write_clip(tmp_path / "plain.mp4", [0, 0.1])
        made.rename(path)
        assert len(times_of(path)) == 2


def test_damaged_middle_costs_only_its_own_frames(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    noise = rng.integers(0, 255, (120, 48, 64, 3), dtype=np.uint8)
    path = write_clip(
        tmp_path / "damaged.mp4",
        [i / 30 for i in range(120)],
        picture=lambda w, h, step: noise[step],
        codec_options={"preset": "ultrafast", "bf": "0", "g": "6"},
    )
    data = bytearray(path.read_bytes())
    middle = data.index(b"mdat") + (len(data) - data.index(b"mdat")) // 2
    data[middle : middle + 3000] = bytes(3000)
    path.write_bytes(data)
    t = times_of(path)
    assert 100 <= len(t) <= 120
    assert np.all(np.diff(t) > 0)
    assert t[-1] == pytest.approx(119 / 30, abs=1e-4)


def test_cut_off_clip_gives_what_is_there(tmp_path: Path) -> None:
    rng = np.random.default_rng(6)
    noise = rng.integers(0, 255, (60, 48, 64, 3), dtype=np.uint8)
    path = write_clip(
        tmp_path / "cut.mp4",
        [i / 30 for i in range(60)],
        picture=lambda w, h, step: noise[step],
        container_options={"movflags": "+faststart"},
    )
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    assert 15 <= len(times_of(path)) < 60


def test_a_sound_track_does_not_confuse(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "with_sound.mp4", [0, 0.1, 0.2], sound=True)
    assert len(times_of(path)) == 3


def test_length_limit_without_a_stated_length(tmp_path: Path) -> None:
    # a "live" matroska file does not say how long it is
    path = write_clip(tmp_path / "live.mkv", [i / 10 for i in range(30)], container_options={"live": "1"})
    with ClipReader(path, limits=ClipLimits(max_duration_s=1.0)) as reader:
        assert reader.duration_hint_s is None
        with pytest.raises(ClipError, match="too long"):
            list(reader)


def test_read_ahead_hands_on_frames_errors_and_stops() -> None:
    from threading import enumerate as threads

    from formcheck.video.reader import Frame

    def frames(fail_at: int | None):  # type: ignore[no-untyped-def]  # a test's own generator
        for step in range(1000):
            if step == fail_at:
                raise ClipError("broken here")
            yield Frame(float(step), np.zeros((2, 2, 3), np.uint8))

    assert [f.t for f in read_ahead(frames(None))] == list(range(1000))
    ahead = read_ahead(frames(5))
    assert [next(ahead).t for _ in range(5)] == [0, 1, 2, 3, 4]
    with pytest.raises(ClipError, match="broken here"):
        next(ahead)
    ahead = read_ahead(frames(None))
    next(ahead)
    ahead.close()
    assert not [t for t in threads() if t.name == "formcheck-decode"]


def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    # kept pictures of the longer clip would need 500 MB more
    peaks = []
    for count in (60, 2300):
        path = write_clip(tmp_path / f"{count}.mp4", [i / 60 for i in range(count)], size=(320, 240))
        done = subprocess.run([sys.executable, "-c", READ_ALL, str(path)], capture_output=True, text=True, check=True)
        frames, peak = done.stdout.split()
        assert int(frames) == count
        peaks.append(int(peak))
    assert peaks[1] - peaks[0] < 40_000  # kilobytes


READ_ALL = """
import resource, sys
from formcheck.video.read_ahead import read_ahead
from formcheck.video.reader import ClipReader
with ClipReader(sys.argv[1]) as reader:
    count = sum(1 for _ in read_ahead(iter(reader)))
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(count, peak // (1024 if sys.platform == "darwin" else 1))
"""
