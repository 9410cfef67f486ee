"""Other people's faces: covered wherever one was found, a while before and after; found by two finders."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.errors import ClipError, OutputError
from formcheck.core.model import Array
from formcheck.privacy import other_faces
from formcheck.privacy.head_cover import Circle
from formcheck.privacy.other_faces import HOLD_S, SCAN_EVERY_S, FaceFinder, OtherFaces, scan_clip
from formcheck.video.orientation import Rgb
from tests.privacy.test_head_cover import detail, picture_of

WIDTH, HEIGHT, RATE = 480, 640, 24


class Told:
    """A finder that finds what it is told to, one list a look."""

    def __init__(self, *looks: list[Circle]):
        self.looks, self.asked = looks, 0

    def faces(self, rgb: Rgb, *, bodies_only: bool = False) -> list[Circle]:
        self.asked += 1
        return self.looks[min(self.asked, len(self.looks)) - 1]


def film(target: Path, pictures: list[Rgb]) -> Path:
    import av

    with av.open(str(target), "w") as container:
        stream = container.add_stream("libx264", rate=Fraction(RATE))
        stream.width, stream.height, stream.pix_fmt = pictures[0].shape[1], pictures[0].shape[0], "yuv420p"
        stream.options = {"crf": "16", "preset": "ultrafast"}
        for rgb in pictures:
            container.mux(stream.encode(av.VideoFrame.from_ndarray(rgb, format="rgb24")))
        container.mux(stream.encode(None))
    return target


def noisy(seed: int = 0) -> Rgb:
    return np.random.default_rng(seed).integers(0, 256, (HEIGHT, WIDTH, 3), dtype=np.uint8)


def drawn_face(x: float, y: float, size: float) -> Rgb:
    """A face of our own invention on a plain wall: light skin, dark brows, eyes, nostrils and mouth.

    The dark and light fields a frontal face has at these places are what the detector's features are made of.
    """
    import cv2

    rgb = np.full((HEIGHT, WIDTH, 3), 120, dtype=np.uint8)

    def oval(dx: float, dy: float, wide: float, high: float, grey: int) -> None:
        centre = (round(x + dx * size), round(y + dy * size))
        axes = (max(1, round(wide * size)), max(1, round(high * size)))
        cv2.ellipse(rgb, centre, axes, 0, 0, 360, (grey, grey, grey), -1, cv2.LINE_AA)

    oval(0, -0.12, 0.50, 0.62, 35)  # hair
    oval(0, 0.05, 0.42, 0.56, 205)
    for side in (-1, 1):
        oval(side * 0.19, -0.17, 0.13, 0.03, 60)  # brow
        oval(side * 0.19, -0.06, 0.11, 0.055, 90)
        oval(side * 0.19, -0.06, 0.05, 0.045, 25)
        oval(side * 0.22, 0.12, 0.10, 0.08, 222)  # cheek
        oval(side * 0.05, 0.17, 0.03, 0.02, 90)
    oval(0, 0.05, 0.04, 0.12, 225)
    oval(0, 0.34, 0.17, 0.04, 85)
    return np.asarray(cv2.GaussianBlur(rgb, (0, 0), max(0.6, size / 90)), dtype=np.uint8)


def test_a_face_is_covered_from_before_it_was_found_until_after() -> None:
    place = np.array([300.0, 200.0])
    faces = OtherFaces(np.array([2.0]), np.array([[*place, 40.0]]))
    before = picture_of(place)
    for t in (2.0 - 0.9 * HOLD_S, 2.0, 2.0 + 0.9 * HOLD_S):
        after = faces.hide(before.copy(), t)
        assert detail(after, place, 40) < 0.1 * detail(before, place, 40)
        assert np.array_equal(after[600:], before[600:])
    for t in (2.0 - 1.1 * HOLD_S, 2.0 + 1.1 * HOLD_S):
        assert np.array_equal(faces.hide(before.copy(), t), before)


def test_someone_who_walks_stays_covered_between_the_looks(tmp_path: Path) -> None:
    """At 1 m/s, with a head 0.24 m high that is 40 pixels in radius here, a person goes 330 pixels a second."""
    speed, radius = 330.0, 40.0

    def head_at(t: float) -> Array:
        return np.array([60.0 + speed * t, 200.0])

    length = 30
    clip = film(tmp_path / "clip.mp4", [noisy(index) for index in range(length)])
    step = int(np.ceil(SCAN_EVERY_S * RATE - 1e-6))
    looked_at = [*range(0, length, step), length - 1]
    finder = Told(*([(*head_at(index / RATE), radius)] for index in looked_at))
    faces = scan_clip(clip, finder)
    assert finder.asked == len(looked_at)
    for index in range(length):
        t = index / RATE
        before = noisy(index)
        after = faces.hide(before.copy(), t)
        assert detail(after, head_at(t), 0.8 * radius) < 0.15 * detail(before, head_at(t), 0.8 * radius)


def test_one_look_that_misses_uncovers_nothing(tmp_path: Path) -> None:
    face = (240.0, 200.0, 40.0)
    clip = film(tmp_path / "clip.mp4", [noisy(index) for index in range(30)])
    faces = scan_clip(clip, Told([face], [], [], [face]))
    for index in range(30):
        after = faces.hide(noisy(index), index / RATE)
        assert detail(after, np.array(face[:2]), 36) < 10


def test_a_drawn_face_is_found_wherever_it_is_and_however_large() -> None:
    with FaceFinder() as finder:
        for x, y, size in ((120.0, 150.0, 60.0), (300.0, 320.0, 110.0), (420.0, 500.0, 45.0)):
            found = finder.faces(drawn_face(x, y, size))
            near = [circle for circle in found if np.hypot(circle[0] - x, circle[1] - y) < 0.3 * size]
            assert near
            # from hair to chin: the drawn face is 1.1 sizes high
            assert max(radius for *_, radius in near) > 0.5 * size
        assert finder.faces(np.full((HEIGHT, WIDTH, 3), 120, dtype=np.uint8)) == []


def test_a_film_with_a_stranger_in_it_shows_nobody(tmp_path: Path) -> None:
    """The lifter's head is where the landmarks say; the stranger's face is only in the picture."""
    from formcheck.report.overlay import write_overlay
    from formcheck.video.reader import ClipReader
    from tests import lifter

    t = lifter.times(1.2, rate=RATE)
    recording = lifter.film(t, left=20.0, right=20.0)
    stranger = drawn_face(110.0, 140.0, 90.0)
    wall = np.full((lifter.HEIGHT, lifter.WIDTH, 3), 120, dtype=np.uint8)
    wall[:HEIGHT, :WIDTH] = stranger
    clip = film(tmp_path / "clip.mp4", [wall] * len(t))
    plain, covered = tmp_path / "plain.mp4", tmp_path / "covered.mp4"
    write_overlay(clip, recording, plain, captions=(), skeleton=False)
    write_overlay(clip, recording, covered, captions=(), skeleton=False, blur_faces=True)
    with ClipReader(plain) as shown, ClipReader(covered) as hidden:
        pairs = list(zip(shown, hidden, strict=True))
    assert len(pairs) == len(t)
    place = np.array([110.0, 144.0])
    for (_, before), (_, after) in pairs:
        assert detail(before, place, 40) > 8
        assert detail(after, place, 40) < 0.4 * detail(before, place, 40)
        eye, cheek = (after[round(140 + dy * 90), round(110 + dx * 90), 1] for dx, dy in ((0.19, -0.06), (0.22, 0.12)))
        assert abs(int(eye) - int(cheek)) < 60  # 197 in the drawing


@pytest.mark.pose
def test_everybody_the_pose_model_finds_is_covered(root: Path) -> None:
    """A shipped clip shows one invented person from the side: the model's head is where the truth has the head up."""
    from formcheck.video.reader import ClipReader

    with ClipReader(root / "clips_demo" / "lateral_raise_side_swing.mp4", max_side=1280) as reader:
        rgb = next(rgb for t, rgb in reader if t > 1.0)
    with FaceFinder() as finder:
        found = finder.faces(rgb)
    assert found
    x, y, radius = found[0]
    assert 0.2 * rgb.shape[1] < x < 0.8 * rgb.shape[1]
    assert y < 0.5 * rgb.shape[0]
    assert 0.02 * rgb.shape[0] < radius < 0.15 * rgb.shape[0]


@pytest.mark.pose
def test_both_finders_find_the_same_head_of_a_rendered_lifter(root: Path) -> None:
    """They know nothing of each other: one reads the body, the other the face alone."""
    from formcheck.video.reader import ClipReader

    with ClipReader(root / "clips_demo" / "overhead_raise_front_clean.mp4", max_side=800) as reader:
        rgb = next(rgb for t, rgb in reader if t > 1.0)
    with FaceFinder() as finder:
        (head,) = finder.faces(rgb, bodies_only=True)
        alone = [circle for circle in finder.faces(rgb) if circle != head]
    assert alone
    for x, y, _ in alone:
        assert np.hypot(x - head[0], y - head[1]) < 0.5 * head[2]


def test_without_a_detector_nothing_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(other_faces, "_CASCADES", ("no such file.xml",) * 2)
    with pytest.raises(OutputError, match="OpenCV"), FaceFinder():
        pass
    with pytest.raises(ClipError, match="does not exist"):
        other_faces.find_other_faces(tmp_path / "no clip.mp4")


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch, in_process: None) -> list[int]:
    """One entry for every time that somebody looks through a clip; a face is found every time."""
    begun: list[int] = []

    class Finder(Told):
        def __enter__(self) -> "Finder":
            begun.append(1)
            return self

        def __exit__(self, *_: object) -> None:
            return None

    monkeypatch.setattr(other_faces, "FaceFinder", lambda: Finder([(240.0, 200.0, 40.0)]))
    return begun


def test_a_clip_is_looked_through_once(tmp_path: Path, looks: list[int]) -> None:
    clip = film(tmp_path / "clip.mp4", [noisy(index) for index in range(6)])
    first, second = (other_faces.find_other_faces(clip) for _ in range(2))
    assert first is second
    assert len(looks) == 1
    film(clip, [noisy(index) for index in range(12)])
    other_faces.find_other_faces(clip)
    assert len(looks) == 2


def test_what_was_found_is_kept_for_the_next_process(tmp_path: Path, looks: list[int]) -> None:
    clip, kept = film(tmp_path / "clip.mp4", [noisy(index) for index in range(12)]), tmp_path / "faces.json"

    def again() -> OtherFaces:
        other_faces._find_cached.cache_clear()  # another process remembers nothing
        return other_faces.find_other_faces(clip, faces_file=kept)

    first, second = again(), again()
    assert len(looks) == 1
    assert np.array_equal(first.t, second.t)
    assert np.array_equal(first.circles, second.circles)
    assert [path.name for path in tmp_path.iterdir() if "faces" in path.name] == ["faces.json"]
    film(clip, [noisy(index) for index in range(13)])
    again()
    assert len(looks) == 2


@pytest.mark.parametrize(
    "spoilt",
    [
        "",
        "[]",
        '{"format": "formcheck-faces-1"}',
        "[" * 100_000,
        lambda text: text.replace("formcheck-faces-1", "formcheck-faces-2"),
        lambda text: text.replace(", 200.0, 40.0]", ", 200.0]"),
        lambda text: text.replace(", 200.0, 40.0]", ", NaN, 40.0]"),
        lambda text: text.replace('"code": "', '"code": "of another day '),
        lambda text: text[: len(text) // 2],
    ],
)
def test_what_is_kept_and_cannot_be_trusted_is_looked_for_again(
    tmp_path: Path, looks: list[int], spoilt: str | Callable[[str], str]
) -> None:
    clip, kept = film(tmp_path / "clip.mp4", [noisy(index) for index in range(6)]), tmp_path / "faces.json"
    first = other_faces.find_other_faces(clip, faces_file=kept)
    whole = kept.read_text()
    kept.write_text(spoilt if isinstance(spoilt, str) else spoilt(whole))
    assert kept.read_text() != whole
    other_faces._find_cached.cache_clear()
    again = other_faces.find_other_faces(clip, faces_file=kept)
    assert len(looks) == 2
    assert np.array_equal(first.circles, again.circles)
    assert kept.read_text() == whole


def test_where_nothing_can_be_kept_it_is_found_all_the_same(tmp_path: Path, looks: list[int]) -> None:
    clip = film(tmp_path / "clip.mp4", [noisy(index) for index in range(6)])
    taken = tmp_path / "taken"
    (taken / "faces.json").mkdir(parents=True)
    for kept in (tmp_path / "no such folder" / "faces.json", taken / "faces.json"):
        other_faces._find_cached.cache_clear()
        assert len(other_faces.find_other_faces(clip, faces_file=kept).t)
    assert not (tmp_path / "no such folder").exists()
    assert [path.name for path in taken.iterdir()] == ["faces.json"]
