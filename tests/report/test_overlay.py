"""The overlay film, key frames and the drawing of the skeleton."""

from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from formcheck.core.errors import ClipError, OutputError
from formcheck.core.model import Rep, Tempo
from formcheck.report.body_marks import SHOWN_S, BodyMark
from formcheck.report.overlay import Caption, make_captions, read_key_frames, write_overlay
from formcheck.signals.skeleton import INDEX
from formcheck.video.drawing import INK, LEFT, MIDDLE, RIGHT, draw_caption, draw_skeleton
from formcheck.video.mark_drawing import MarkDrawing, Stroke
from formcheck.video.reader import ClipReader
from tests.in_process import track_here
from tests.video.clips import FakeEstimator, grey_levels, write_clip

TIMES = [0, 0.033, 0.066, 0.1, 0.15, 0.2, 0.24, 0.31, 0.5, 0.52]
BACKGROUND = 128


def standing(width: int, height: int) -> np.ndarray:
    """(33, 2) a person facing the camera, arms out; the lifter's left is at the right of the picture."""
    places = {"nose": (0.5, 0.1), "shoulder": (0.1, 0.25), "elbow": (0.25, 0.25), "wrist": (0.4, 0.25)}
    places |= {"hip": (0.08, 0.55), "knee": (0.08, 0.75), "ankle": (0.08, 0.95)}
    pixels = np.full((33, 2), np.nan)
    for name, index in INDEX.items():
        side, _, part = name.partition("_")
        if name == "nose":
            pixels[index] = (0.5, 0.1)
        elif part in places:
            x, y = places[part]
            pixels[index] = (0.5 + x if side == "left" else 0.5 - x, y)
    return pixels * (width, height)


def drawn(visibility: np.ndarray | None = None, pixels: np.ndarray | None = None) -> np.ndarray:
    picture = np.full((420, 420, 3), BACKGROUND, np.uint8)
    pose = standing(420, 420) if pixels is None else pixels
    return draw_skeleton(picture, pose, np.ones(33) if visibility is None else visibility, stroke=9)


def count(picture: np.ndarray, colour: tuple[int, int, int]) -> int:
    return int((np.abs(picture.astype(int) - colour).max(axis=-1) < 12).sum())


def middle_of(picture: np.ndarray, first: str, second: str) -> tuple[int, ...]:
    pose = standing(420, 420)
    x, y = (pose[INDEX[first]] + pose[INDEX[second]]) / 2
    return tuple(int(v) for v in picture[round(y), round(x)])


# ---------------------------------------------------------------- drawing


def test_sides_differ_in_colour_and_in_form() -> None:
    picture = drawn()
    assert middle_of(picture, "left_shoulder", "left_elbow") == LEFT
    assert middle_of(picture, "right_shoulder", "right_elbow") == INK  # the line inside
    assert middle_of(picture, "left_shoulder", "right_shoulder") == MIDDLE
    assert count(picture, RIGHT) > 500
    # also where red and green look alike: deuteranopia after F. Viénot, H. Brettel, J. Mollon, "Digital video
    # colourmaps for checking the legibility of displays by dichromats", Color Res. Appl. 24 (1999), linear RGB
    matrix = np.array([[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]])  # from memory
    seen = [matrix @ (np.array(colour) / 255) ** 2.2 for colour in (LEFT, RIGHT)]
    assert np.abs(seen[0] - seen[1]).max() > 0.15


def test_drawing_is_in_place() -> None:
    picture = np.full((100, 100, 3), BACKGROUND, np.uint8)
    assert draw_skeleton(picture, standing(100, 100), np.ones(33)) is picture
    assert (picture != BACKGROUND).any()


def test_hidden_limbs_are_broken_lines() -> None:
    visibility = np.ones(33)
    visibility[INDEX["left_wrist"]] = 0.2
    whole, broken = drawn(), drawn(visibility)
    y = round(0.25 * 420)

    def gaps(picture: np.ndarray) -> int:
        row = picture[y, round(0.77 * 420) : round(0.88 * 420)]
        return int((row == BACKGROUND).all(axis=-1).sum())

    assert gaps(whole) == 0
    assert gaps(broken) > 5
    assert 0 < count(broken, LEFT) < count(whole, LEFT)


def test_missing_and_far_landmarks_are_no_trouble() -> None:
    nothing = drawn(pixels=np.full((33, 2), np.nan))
    assert (nothing == BACKGROUND).all()
    pose = standing(420, 420)
    pose[INDEX["left_elbow"]] = np.nan
    assert middle_of(drawn(pixels=pose), "left_shoulder", "left_elbow") == (BACKGROUND,) * 3
    for far in (1e9, -1e9, 5e4):
        pose[INDEX["left_elbow"]] = far
        drawn(pixels=pose)
        drawn(np.full(33, 0.1), pose)
    for size in (1, 2, 16):
        draw_skeleton(np.zeros((size, size, 3), np.uint8), standing(size, size), np.full(33, 0.3))


def test_caption_is_written_and_never_outgrows_the_picture() -> None:
    for text in ("Rep 3: lifting", "Größe ✓ – lang " * 30, ""):
        for shape in ((200, 300), (16, 16), (4, 4)):
            picture = np.full((*shape, 3), 255, np.uint8)
            assert draw_caption(picture, text) is picture
            assert picture.shape == (*shape, 3)
    picture = np.full((400, 600, 3), 255, np.uint8)
    draw_caption(picture, "Rep 3: lifting")
    assert (picture[100:] == 255).all()
    assert count(picture[:100], MIDDLE) > 30  # letters
    assert (picture[:100].min(axis=-1) < 90).sum() > 1000  # their plate


# ---------------------------------------------------------------- captions


def test_captions_of_reps() -> None:
    reps = [
        Rep(1, 1.0, 2.2, 4.5, True, Tempo(1.8, 0.5, 1.0, 0.2)),
        Rep(2, 5.0, 5.5, 6.0, False, Tempo(float("nan"), float("nan"), float("nan"), float("nan"))),
    ]
    captions = make_captions(reps)
    assert captions[0] == Caption(1.0, 2.0, "Rep 1: lifting")
    assert [c.text for c in captions[:4]] == [
        "Rep 1: lifting",
        "Rep 1: pause at the top",
        "Rep 1: lowering",
        "Rep 1: pause below",
    ]
    assert captions[3].end_s == pytest.approx(4.5)
    assert captions[4] == Caption(5.0, 6.0, "Rep 2, partial")


def test_captions_of_a_lift_that_begins_with_the_lowering() -> None:
    reps = [Rep(1, 1.0, 4.5, 4.5, True, Tempo(1.0, 0.5, 1.8, 0.2))]
    captions = make_captions(reps, "eccentric")
    assert captions[0] == Caption(1.0, 2.0, "Rep 1: lowering")
    assert [c.text.removeprefix("Rep 1: ") for c in captions] == [
        "lowering",
        "pause below",
        "lifting",
        "pause at the top",
    ]


# ---------------------------------------------------------------- film


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    return write_clip(tmp_path / "clip.mp4", TIMES, size=(322, 242), picture=grey_levels, pix_fmt="yuv444p")


def test_film_has_the_clips_times_and_plays_anywhere(tmp_path: Path, clip: Path) -> None:
    recording = track_here(clip, FakeEstimator)
    out = tmp_path / "film.mp4"
    told: list[float] = []
    write_overlay(clip, recording, out, on_progress=lambda done, total: told.append(done))
    with av.open(str(out)) as film:
        stream = film.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("h264", "yuv420p")
        assert (stream.width % 2, stream.height % 2) == (0, 0)
        frames = list(film.decode(stream))
        assert stream.start_time == 0
        stamps = [float(frame.pts * frame.time_base) for frame in frames]
    assert stamps == pytest.approx(TIMES, abs=1 / 90_000)  # not only those that were tracked
    assert told == sorted(told)
    assert told[-1] == recording.clip.duration_s
    data = out.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")  # starts to play before it is loaded


@pytest.mark.parametrize("size", [(17, 13), (16, 16), (2000, 500)])
def test_film_sizes(tmp_path: Path, size: tuple[int, int]) -> None:
    clip = write_clip(tmp_path / "clip.mp4", TIMES[:3], size=size, pix_fmt="yuv444p")
    write_overlay(clip, track_here(clip, FakeEstimator), tmp_path / "film.mp4")
    with av.open(str(tmp_path / "film.mp4")) as film:
        width, height = film.streams.video[0].width, film.streams.video[0].height
        assert len(list(film.decode(video=0))) == 3
    scale = min(1, 1280 / max(size))
    assert abs(width - size[0] * scale) < 2
    assert abs(height - size[1] * scale) < 2
    assert (width % 2, height % 2) == (0, 0)


def test_film_shows_skeleton_and_captions_at_their_times(tmp_path: Path) -> None:
    from formcheck.pose.estimator import Pose

    clip = write_clip(
        tmp_path / "clip.mp4", TIMES, size=(640, 480), picture=lambda w, h, step: np.full((h, w, 3), 128, np.uint8)
    )

    def see(rgb: np.ndarray, t_s: float) -> Pose | None:
        return None if t_s > 0.22 else Pose(standing(640, 480), np.zeros((33, 3)), np.ones(33))

    recording = track_here(clip, lambda: FakeEstimator(see))
    out = tmp_path / "film.mp4"
    write_overlay(clip, recording, out, captions=[Caption(0.09, 0.21, "Rep 1")])
    with ClipReader(out) as reader:
        for t, rgb in reader:
            limb = rgb[round(0.25 * 480), round(0.8 * 640)].astype(int)
            # Between the last picture with the lifter and the next that was tracked, up to the middle.
            assert (np.abs(limb - LEFT).max() < 40) == (t < 0.25)
            assert (rgb[:50, :160].min() < 60) == (0.09 <= t < 0.21)


def test_film_shows_a_mark_about_its_moment(tmp_path: Path) -> None:
    clip = write_clip(
        tmp_path / "clip.mp4", TIMES, size=(640, 480), picture=lambda w, h, step: np.full((h, w, 3), 128, np.uint8)
    )
    recording, out = track_here(clip, FakeEstimator), tmp_path / "film.mp4"
    line = MarkDrawing((Stroke("limb", ((40.0, 240.0), (160.0, 240.0))),), (320.0, 440.0))
    mark = BodyMark("height", 1, -SHOWN_S + 0.125, "not_met", "71° ± 4°", lambda pixels: line)
    write_overlay(clip, recording, out, marks=[mark])
    with ClipReader(out) as reader:
        shown = {round(t, 3): bool(np.abs(rgb[240, 100].astype(int) - 128).max() > 40) for t, rgb in reader}
    assert shown == {t: t <= 0.125 for t in shown}
    assert set(shown.values()) == {True, False}


def test_film_of_a_turned_clip_is_upright(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", TIMES[:3], size=(64, 48), rotation=(90, False, False))
    write_overlay(clip, track_here(clip, lambda: FakeEstimator(lambda rgb, t_s: None)), tmp_path / "film.mp4")
    with ClipReader(clip) as source, ClipReader(tmp_path / "film.mp4") as film:
        for (_, before), (_, after) in zip(source, film, strict=True):
            assert before.shape == after.shape == (64, 48, 3)
            assert np.abs(before.astype(int) - after).mean() < 6  # colours kept through the encoder


def test_failed_film_leaves_the_old_one(tmp_path: Path, clip: Path) -> None:
    recording = track_here(clip, FakeEstimator)
    out = tmp_path / "films" / "film.mp4"
    with pytest.raises(OutputError, match=r"cannot be written: .*\.$"):
        write_overlay(clip, recording, out)
    out.parent.mkdir()
    out.write_bytes(b"old")

    class StopError(Exception):
        pass

    def stop(done: float, total: float | None) -> None:
        raise StopError

    with pytest.raises(StopError):
        write_overlay(clip, recording, out, on_progress=stop)
    with pytest.raises(ClipError):
        write_overlay(tmp_path / "none.mp4", recording, out)
    assert out.read_bytes() == b"old"
    assert [item.name for item in out.parent.iterdir()] == ["film.mp4"]
    write_overlay(clip, recording, out)
    assert out.stat().st_size > 1000
    assert [item.name for item in out.parent.iterdir()] == ["film.mp4"]


# ---------------------------------------------------------------- key frames


def test_key_frames_are_the_nearest_ones_in_the_order_asked(clip: Path) -> None:
    # frame number n is grey 20 + 2 n (`grey_levels`); nearest frames worked out by hand from TIMES
    wanted = {0.31: 7, 0.0: 0, 0.048: 1, 0.052: 2, 99.0: 9, -5.0: 0, 0.4: 7, 0.41: 8}
    frames = read_key_frames(clip, list(wanted))
    levels = [float(frame.mean()) for frame in frames]
    assert levels == pytest.approx([20 + 2 * n for n in wanted.values()], abs=0.9)
    assert read_key_frames(clip, []) == []
    assert read_key_frames(clip, [0.1, 0.1], max_side=100)[1].shape == (75, 100, 3)


def test_key_frames_of_no_clip(tmp_path: Path) -> None:
    with pytest.raises(ClipError):
        read_key_frames(tmp_path / "none.mp4", [0.0])


# ---------------------------------------------------------------- a real browser


@pytest.mark.browser
def test_browser_plays_the_film(browser: Any, tmp_path: Path) -> None:
    times = [i / 30 + (0.01 if i % 3 else 0) for i in range(60)]
    clip = write_clip(tmp_path / "clip.mp4", times, size=(320, 240), picture=grey_levels)
    write_overlay(clip, track_here(clip, FakeEstimator), tmp_path / "film.mp4")
    (tmp_path / "page.html").write_text('<video id="v" src="film.mp4" muted></video>')
    page = browser.new_page()
    page.goto((tmp_path / "page.html").as_uri())
    told = page.evaluate(PLAY)
    page.close()
    assert told["size"] == [320, 240]
    assert told["duration"] == pytest.approx(times[-1] + 1 / 30, abs=0.05)
    # the browser's own time of the frame shown after seeking a little past it
    assert told["shown"] == pytest.approx([times[10], times[40]], abs=0.001)


PLAY = """async () => {
    const v = document.getElementById('v');
    if (v.error) throw v.error;
    const shown = [];
    if (v.readyState < 2) await new Promise(done => v.addEventListener('loadeddata', done, {once: true}));
    let last = null;
    const watch = () => v.requestVideoFrameCallback((now, data) => { last = data.mediaTime; watch(); });
    watch();
    for (const t of [10 / 30 + 0.015, 40 / 30 + 0.015]) {
        const there = new Promise(done => v.addEventListener('seeked', done, {once: true}));
        const before = last;
        v.currentTime = t;
        await there;
        for (let wait = 0; last === before && wait < 100; wait++) await new Promise(done => setTimeout(done, 100));
        shown.push(last);
    }
    await v.play();
    v.pause();
    return {size: [v.videoWidth, v.videoHeight], duration: v.duration, shown};
}"""
