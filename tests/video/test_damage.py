"""A clip that lost something is told, with as much as its own index says is left; times, bytes and pictures agree."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.errors import ClipError
from formcheck.core.landmarks import ClipDamage, LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode, encode
from formcheck.pose.recording import load_recording, save_recording
from formcheck.sandbox.sandboxed_tracking import track_clip
from formcheck.storage import recording_cache
from formcheck.storage.recording_cache import cached_recording
from formcheck.video.clip_file import read_stated_bytes
from formcheck.video.damage import UNKNOWN_EXTENT, Extent, assess_damage, select_sound_pictures
from tests.in_process import track_here
from tests.lifter import Set, film, times
from tests.pose.stand_in_models import GreyModel
from tests.video.clips import FakeEstimator, Rgb, write_clip

RATE, COUNT, GROUP = 30, 240, 30


def moving(width: int, height: int, step: int) -> Rgb:
    """A pattern no coder can make small, moved on by two pixels a picture."""
    rng = np.random.default_rng(step)
    base = np.random.default_rng(4).integers(0, 255, (height, width + 2 * COUNT, 3), dtype=np.uint8)
    noise = rng.integers(0, 60, (height, width, 3), dtype=np.uint8)
    return np.asarray(base[:, 2 * step : 2 * step + width] // 2 + noise, dtype=np.uint8)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """8 seconds in groups of a second, index first."""
    path = tmp_path_factory.mktemp("whole") / "whole.mp4"
    options = {"preset": "ultrafast", "bf": "0", "g": str(GROUP), "keyint_min": str(GROUP), "sc_threshold": "0"}
    times = [k / RATE for k in range(COUNT)]
    return write_clip(path, times, picture=moving, container_options={"movflags": "+faststart"}, codec_options=options)


Changed = Callable[[bytearray], bytes]


@pytest.fixture
def changed(whole: Path, tmp_path: Path) -> Callable[[Changed], Path]:
    """The clip with its bytes changed."""

    def make(change: Changed) -> Path:
        path = tmp_path / "changed.mp4"
        path.write_bytes(change(bytearray(whole.read_bytes())))
        return path

    return make


def damage(path: Path) -> ClipDamage | None:
    return track_here(path, FakeEstimator).damage


def samples(path: Path) -> list[tuple[int, int]]:
    """First byte and size of every picture, by the container's own index."""
    with av.open(str(path)) as container:
        return [(entry.pos, entry.size) for entry in container.streams.video[0].index_entries]


def zeroed(start: float, end: float) -> Changed:
    def change(data: bytearray) -> bytes:
        a, b = round(start * len(data)), round(end * len(data))
        data[a:b] = bytes(b - a)
        return bytes(data)

    return change


def test_a_whole_clip_is_whole(whole: Path) -> None:
    assert damage(whole) is None


@pytest.mark.parametrize("share", [0.95, 0.6])
def test_cut_off_the_index_says_how_much_is_left(whole: Path, changed: Callable[[Changed], Path], share: float) -> None:
    size = whole.stat().st_size
    left = sum(pos + length <= round(share * size) for pos, length in samples(whole))
    found = damage(changed(lambda data: bytes(data[: round(share * len(data))])))
    assert found is not None
    assert found.length_s == pytest.approx(COUNT / RATE, abs=0.1)
    assert found.read_s == pytest.approx(left / RATE, abs=0.11)


def test_a_tail_of_zeros_is_lost(whole: Path, changed: Callable[[Changed], Path]) -> None:
    left = sum(pos + length <= round(0.7 * whole.stat().st_size) for pos, length in samples(whole))
    found = damage(changed(zeroed(0.7, 1.0)))
    assert found is not None
    assert found.read_s == pytest.approx(left / RATE, abs=0.11)


def test_after_zeros_in_the_middle_the_film_goes_on_at_a_key_picture(
    whole: Path, changed: Callable[[Changed], Path]
) -> None:
    a, b = (round(share * whole.stat().st_size) for share in (0.4, 0.5))
    hit = [k for k, (pos, length) in enumerate(samples(whole)) if pos < b and pos + length > a]
    next_key = -(-hit[-1] // GROUP) * GROUP  # key pictures are the multiples of the group
    lost = next_key - hit[0]
    path = changed(zeroed(0.4, 0.5))
    made = track_here(path, FakeEstimator)
    assert made.damage is not None
    assert made.damage.read_s == pytest.approx((COUNT - lost) / RATE, abs=0.11)
    gap = np.diff(made.t).max()
    assert gap >= lost / RATE  # nothing was looked at in it
    assert made.t[-1] == pytest.approx((COUNT - 1) / RATE, abs=1 / 15)


def test_what_leaves_less_than_half_is_refused(changed: Callable[[Changed], Path]) -> None:
    for change in (lambda data: bytes(data[: len(data) * 3 // 10]), zeroed(0.2, 0.9)):
        with pytest.raises(ClipError, match=r"damaged.* of 8\.0 seconds could be read"):
            damage(changed(change))


def test_bits_turned_over_all_through_the_film_leave_nothing(whole: Path, changed: Callable[[Changed], Path]) -> None:
    first = samples(whole)[0][0]

    def flip(data: bytearray) -> bytes:
        rng = np.random.default_rng(8)
        for at in rng.integers(8 * first, 8 * len(data), 5000):
            data[at // 8] ^= 1 << (at % 8)
        return bytes(data)

    with pytest.raises(ClipError, match="damaged"):
        damage(changed(flip))


def test_one_bit_costs_the_rest_of_its_group(whole: Path, changed: Callable[[Changed], Path]) -> None:
    picture = 4 * GROUP + 10
    pos, length = samples(whole)[picture]

    def flip(data: bytearray) -> bytes:
        data[pos + length // 2] ^= 0x10
        return bytes(data)

    found = damage(changed(flip))
    assert found is not None
    assert found.read_s == pytest.approx((COUNT - (GROUP - 10)) / RATE, abs=0.11)


@pytest.mark.parametrize(("bits", "most_are_read"), [(1, True), (20, False)])
def test_bits_turned_in_the_header_never_make_another_film(
    whole: Path, changed: Callable[[Changed], Path], bits: int, most_are_read: bool
) -> None:
    data = whole.read_bytes()
    at = data.index(b"moov") - 4
    size = int.from_bytes(data[at : at + 4], "big")

    def flip(data: bytearray, seed: int) -> bytes:
        for bit in np.random.default_rng(seed).integers(8 * at, 8 * (at + size), bits):
            data[bit // 8] ^= 1 << (bit % 8)
        return bytes(data)

    original = track_here(whole, FakeEstimator)
    read = 0
    for seed in range(12):
        try:
            made = track_here(changed(lambda data, seed=seed: flip(data, seed)), FakeEstimator)
        except ClipError:
            continue
        read += 1
        same = len(made.t) == len(original.t) and np.allclose(made.t, original.t, atol=0.04)
        assert same or made.damage is not None, seed
    assert (read > 6) == most_are_read


@pytest.mark.parametrize(("suffix", "options"), [(".mkv", {}), (".mkv", {"live": "1"}), (".flv", {}), (".avi", {})])
@pytest.mark.parametrize("what", ["cut", "zeros at the end", "zeros inside"])
def test_other_containers(tmp_path: Path, suffix: str, options: dict[str, str], what: str) -> None:
    codec = {"codec": "mjpeg", "pix_fmt": "yuvj420p", "codec_options": {}} if suffix == ".avi" else {}
    ticks = RATE if suffix == ".avi" else 1000
    coder = {"preset": "ultrafast", "bf": "0", "g": str(GROUP)}
    path = tmp_path / f"clip{suffix}"
    write_clip(path, [k / RATE for k in range(COUNT)], picture=moving, container_options=options, ticks=ticks,
               **{"codec_options": coder, **codec})  # fmt: skip
    assert damage(path) is None
    data = bytearray(path.read_bytes())
    change: dict[str, Changed] = {
        "cut": lambda data: bytes(data[: round(0.7 * len(data))]),
        "zeros at the end": zeroed(0.7, 1.0),
        "zeros inside": zeroed(0.4, 0.6),
    }
    path.write_bytes(change[what](data))
    found = damage(path)
    if options and what == "cut":
        assert found is None  # a live recording says nowhere how long it is
        return
    assert found is not None
    share = 0.8 if what == "zeros inside" else 0.7
    assert found.read_s / found.length_s == pytest.approx(share, abs=0.13)  # as of the bytes; a group is an eighth


def test_any_number_of_processes_and_chunks_finds_the_same(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "hurt.mp4"
    path.write_bytes(zeroed(0.3, 0.38)(bytearray(whole.read_bytes())))
    length = {"chunk_s": 2.0, "whole_s": 3.0}
    alone = track_here(path, GreyModel, processes=1, **length)
    assert alone.damage is not None
    for processes in (1, 2):
        made = track_clip(path, GreyModel, processes=processes, **length)
        assert made.damage == alone.damage
        assert np.array_equal(made.t, alone.t)
        assert np.array_equal(made.pixels, alone.pixels, equal_nan=True)


# ---------------------------------------------------------------- the reckoning alone

TIMES = np.arange(0, 10, 0.1)
CLIP = Path("clip.mp4")


def test_reckoning_by_hand() -> None:
    whole_film = Extent(end_s=10.0, ordered=True)
    assert assess_damage(TIMES, [], 0, whole_film, CLIP) is None
    # 0.3 s shorter than its header says: rounding; 2 s shorter: not
    assert assess_damage(TIMES[:-3], [], 0, whole_film, CLIP) is None
    assert assess_damage(TIMES[:-20], [], 0, whole_film, CLIP) == ClipDamage(8.0, 10.0)
    # pictures 30 to 49 are gone, and the two that touch
    kept = np.delete(TIMES, np.arange(30, 50))
    assert assess_damage(kept, [(2.9, 5.0)], 0, whole_film, CLIP) == ClipDamage(8.0, 10.0)
    assert assess_damage(kept, [(2.9, 4.0), (4.0, 5.0)], 0, whole_film, CLIP) == ClipDamage(8.0, 10.0)
    # a pause of the camera is no loss
    assert assess_damage(kept, [], 0, whole_film, CLIP) is None
    # the first two seconds could not be decoded
    assert assess_damage(TIMES, [(-np.inf, 0.0)], 0, Extent(-2.0, 10.0), CLIP) == ClipDamage(10.0, 12.0)
    # of a file without a length 8 of 10 bytes are there
    assert assess_damage(TIMES, [(9.9, np.inf)], 0, Extent(0.0, 10.0, read_share=0.8), CLIP) == ClipDamage(10.0, 12.5)


def test_times_that_run_back_or_contradict_the_header_are_refused() -> None:
    assess_damage(TIMES, [], 2, Extent(end_s=10.0, ordered=True), CLIP)
    assess_damage(TIMES, [], 50, UNKNOWN_EXTENT, CLIP)  # some containers keep no presentation times
    with pytest.raises(ClipError, match="time stamps"):
        assess_damage(TIMES, [], 5, Extent(end_s=10.0, ordered=True), CLIP)
    with pytest.raises(ClipError, match="time stamps"):
        assess_damage(TIMES, [], 0, Extent(end_s=10.0, contradicted=True), CLIP)


def test_pictures_that_may_lean_on_a_lost_one_are_not_looked_at() -> None:
    sound = select_sound_pictures(TIMES, [(2.9, 5.0)], [(7.95, 8.55)])
    assert sound[TIMES < 2.75].all()
    assert not sound[(TIMES > 2.95) & (TIMES < 4.95)].any()
    assert not sound[(TIMES > 7.95) & (TIMES < 8.5)].any()
    assert sound[50]
    assert sound[-1]


def test_promised_bytes(tmp_path: Path) -> None:
    times = [k / RATE for k in range(60)]
    for name in ("clip.mkv", "clip.webm"):
        codec = "libvpx" if name.endswith("webm") else "libx264"
        path = write_clip(tmp_path / name, times, codec=codec, codec_options={}, ticks=1000)
        assert read_stated_bytes(path) == path.stat().st_size
    live = write_clip(tmp_path / "live.mkv", times, container_options={"live": "1"}, ticks=1000)
    assert read_stated_bytes(live) is None
    avi = write_clip(tmp_path / "clip.avi", times, codec="mjpeg", pix_fmt="yuvj420p", codec_options={}, ticks=RATE)
    assert read_stated_bytes(avi) == avi.stat().st_size
    assert read_stated_bytes(write_clip(tmp_path / "clip.mp4", times)) is None


# ---------------------------------------------------------------- kept, and told


@pytest.mark.usefixtures("in_process")
def test_the_loss_is_kept_with_the_landmarks(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "cut.mp4"
    path.write_bytes(whole.read_bytes()[: round(0.6 * whole.stat().st_size)])
    kept = tmp_path / "kept"
    first = cached_recording(path, FakeEstimator, kept)
    again = cached_recording(path, FakeEstimator, kept)
    assert first.damage is not None
    assert again.damage == first.damage


def test_the_review_says_it_as_a_code() -> None:
    plan = Set((90.0,) * 3)
    t = times(plan.length_s)
    seen = film(t, left=plan.course(t), right=plan.course(t), noise_px=1.0)
    said = []
    for damaged in (None, ClipDamage(5.0, 8.0)):
        review = analyse(replace(seen, damage=damaged), get_exercise("lateral-raise")).review
        said.append([item for item in review.quality.problems if item.code == "clip-damaged"])
        assert decode(encode(review)).quality.problems == review.quality.problems
    assert said[0] == []
    assert [dict(item.parameters) for item in said[1]] == [{"read_s": 5.0, "length_s": 8.0}]


def test_recordings_of_older_versions_say_nothing_of_a_loss(whole: Path, tmp_path: Path) -> None:
    made = track_here(whole, FakeEstimator)
    save_recording(replace(made, damage=ClipDamage(5.0, 8.0)), tmp_path / "one.npz")
    assert load_recording(tmp_path / "one.npz").damage == ClipDamage(5.0, 8.0)
    save_recording(made, tmp_path / "two.npz")
    assert load_recording(tmp_path / "two.npz").damage is None


@pytest.mark.parametrize("gone", [False, True])
@pytest.mark.usefixtures("in_process")
def test_a_clip_that_changes_while_it_is_tracked_is_refused_and_not_kept(
    whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gone: bool
) -> None:
    path, kept = tmp_path / "clip.mp4", tmp_path / "kept"
    path.write_bytes(whole.read_bytes())

    def replacing(*given: Any, **options: Any) -> LandmarkRecording:
        made = track_clip(*given, **options)
        if gone:
            path.unlink()
        else:
            path.write_bytes(whole.read_bytes() + b"\0")
        return made

    monkeypatch.setattr(recording_cache, "track_clip", replacing)
    with pytest.raises(ClipError, match="changed while"):
        cached_recording(path, FakeEstimator, kept)
    assert list(kept.glob("*")) == []
