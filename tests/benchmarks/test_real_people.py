"""The benchmark on real people: its own truth on drawn pictures and invented cameras, a folder of shipped clips with
their truth, and the open films themselves where they are."""

import json
import os
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from formcheck.core.model import LandmarkRecording
from formcheck.pose.recording import TRACKER_VERSION
from formcheck.signals.skeleton import get_index
from formcheck.storage.recording_cache import cache_path

DEMO = Path(__file__).parents[2] / "clips_demo"
KEPT = Path(__file__).parents[2] / "tools" / "benchmarks" / "recordings" / "shipped"


# ---------------------------------------------------------------- its own truth


@pytest.mark.parametrize("degrees", [40.0, 75.0, 90.0, 120.0, 165.0])
@pytest.mark.parametrize("outwards", [-1, 1])
def test_the_silhouette_gives_the_direction_of_a_drawn_arm(degrees: float, outwards: int) -> None:
    """An arm drawn at a known angle on blue, and landmarks that are off by several degrees."""
    from real_films import find_arm_direction, find_silhouette

    picture = np.full((480, 480, 3), (200, 20, 5), np.uint8)
    shoulder = np.array([240.0, 240.0])
    along = np.array([outwards * np.sin(np.radians(degrees)), np.cos(np.radians(degrees))])
    wrist = shoulder + 150 * along
    cv2.line(picture, *(tuple(int(v) for v in np.round(end)) for end in (shoulder, wrist)), (10, 10, 10), 15)
    cv2.rectangle(picture, (215, 235), (265, 440), (10, 10, 10), -1)  # the trunk
    across = np.array([-along[1], along[0]])
    for off in (-8.0, 0.0, 8.0):
        found = find_arm_direction(find_silhouette(picture), shoulder, wrist + off * across)
        if degrees >= 75:
            assert found is not None
        assert found is None or found == pytest.approx(degrees, abs=1.2)
    assert find_arm_direction(find_silhouette(np.full_like(picture, (200, 20, 5))), shoulder, wrist) is None


def calibration(folder: Path) -> Path:
    """Four cameras around an invented room, 3 m from its middle, as the file writes them: y up, z backwards."""
    cameras = []
    for number, turn in enumerate((0.0, 80.0, 170.0, 260.0)):
        yaw = np.radians(turn)
        place = np.array([3000 * np.sin(yaw), -3000 * np.cos(yaw), 1200.0])
        back = (place - [0, 0, 1000.0]) / np.linalg.norm(place - [0, 0, 1000.0])
        right = np.cross([0, 0, 1.0], back)
        right /= np.linalg.norm(right)
        axes = np.array([right, np.cross(back, right), back])
        numbers = {f"r{i + 1}{j + 1}": axes[i, j] for i in range(3) for j in range(3)}
        numbers |= dict(zip("xyz", place, strict=True))
        told = " ".join(f'{name}="{value}"' for name, value in numbers.items())
        inner = 'focalLengthU="96000" focalLengthV="96000" centerPointU="34560" centerPointV="61440" '
        inner += (
            'radialDistortion1="0" radialDistortion2="0" tangentalDistortion1="0" tangentalDistortion2="0" model="x"'
        )
        cameras.append(f'<camera serial="{number}"><transform {told}/><intrinsic {inner}/></camera>')
    path = folder / "calibration.txt"
    path.write_text(f"<calibration><cameras>{''.join(cameras)}</cameras></calibration>")
    return path


def seen_by(camera: Any, points: np.ndarray, recording: LandmarkRecording) -> LandmarkRecording:
    local = points @ camera.rotation.T + camera.shift
    pixels = (local[..., :2] / local[..., 2:]) * camera.matrix[0, 0] + camera.matrix[:2, 2]
    return replace(recording, pixels=pixels, visibility=np.ones(points.shape[:2]))


def test_four_cameras_give_back_the_points_and_angles_they_were_shown(tmp_path: Path) -> None:
    """Landmarks of an invented figure, put before four cameras by the pinhole formula; one camera errs for a while."""
    from real_films import compute_space_angles, read_calibration, triangulate
    from tests import lifter

    t = np.arange(0, 1.5, 1 / 30)
    figure = lifter.film(t, left=90.0, right=60.0, elbow=20.0, torso=5.0, yaw=0.0)
    upright = figure.world * [1000.0, 1000.0, 1000.0]
    points = np.stack([upright[..., 0], upright[..., 2], 1000.0 - upright[..., 1]], axis=-1)
    cameras = read_calibration(calibration(tmp_path))
    recordings = [seen_by(camera, points, figure) for camera in cameras]
    wrong = np.array(recordings[1].pixels)
    wrong[10:20, [13, 14]] = wrong[10:20, [14, 13]]  # left and right elbow taken for one another
    recordings[1] = replace(recordings[1], pixels=wrong)
    seen = triangulate(recordings, cameras)
    at = np.array([np.argmin(np.abs(t - one)) for one in seen.t])
    joints = [get_index(part, side) for part in ("shoulder", "elbow", "wrist", "hip") for side in ("left", "right")]
    assert np.nanmax(np.abs(seen.points[:, joints] - points[at][:, joints])) < 1.0  # millimetres
    told = compute_space_angles(seen.points, np.array([0.0, 0.0, 1.0]))
    true = compute_space_angles(points[at], np.array([0.0, 0.0, 1.0]))
    for key, values in told.items():
        assert np.nanmax(np.abs(values - true[key])) < 0.1, key


# ---------------------------------------------------------------- a folder with its truth


def write_folder(folder: Path, names: list[str], **changes: Any) -> Path:
    """Shipped clips with their truth in the format of docs/real-people.md."""
    clips = []
    for name in names:
        shutil.copy(DEMO / f"{name}.mp4", folder)
        known = json.loads((DEMO / f"{name}.truth.json").read_text(encoding="utf-8"))
        frames = known["frames"]
        angles = [
            {"signal": "arm_raise", "side": side, "t": frames["t"][::5], "degrees": frames[f"{side}_arm_raise"][::5]}
            for side in ("left", "right")
        ]
        reps = [[rep["start"], rep["end"]] for rep in known["reps"]]
        first = {"clip": f"{name}.mp4", "exercise": known["exercise"], "view": known["view"], "reps": reps,
                 "empty": [[0.0, reps[0][0] - 0.3]], "angles": angles}  # fmt: skip
        clips.append(first | changes)
    (folder / "truth.json").write_text(json.dumps({"format": 1, "clips": clips}))
    return folder


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    """A cache folder that holds the landmarks of the shipped clips, so that nothing is tracked."""
    from formcheck.pose.recording import load_recording

    folder = tmp_path / "cache"
    (folder / "landmarks").mkdir(parents=True)
    for path in KEPT.glob("*.npz"):
        one = load_recording(path)
        shutil.copy(path, cache_path(folder / "landmarks", one.clip.sha256, one.pose_model, TRACKER_VERSION))
    return folder


def test_a_folder_of_shipped_clips_is_held_against_its_truth(
    tmp_path: Path, cache: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The truth is that of the rendered bodies; the errors wanted of them are those of docs/accuracy.md and more."""
    from labelled_clips import read_truth
    from real_people import hold_against_truth, main

    names = ["lateral_raise_front_clean", "lateral_raise_front_range_lost"]
    folder = write_folder(tmp_path, names)
    assert main([str(folder), "--cache", str(cache)]) == 0
    printed = capsys.readouterr().out
    assert f"{names[0]}.mp4: 6 of 6 reps found, 6 counted, 0 in empty stretches" in printed
    assert "2 of 2 clips with exactly the true reps" in printed
    for clip in read_truth(folder).clips:
        _, errors = hold_against_truth(folder, clip, cache / "landmarks")
        assert set(errors) == {("arm_raise", "left"), ("arm_raise", "right")}
        for values in errors.values():
            assert 0.1 < np.nanmedian(np.abs(values)) < 6.0


def test_a_wrong_truth_shows_as_errors(tmp_path: Path, cache: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from real_people import main

    angle = {"signal": "arm_raise", "side": "left", "t": [0.5, 1.0], "degrees": [80.0, 80.0]}  # the arm hangs
    folder = write_folder(
        tmp_path, ["lateral_raise_front_clean"], reps=[[0.2, 0.6]], empty=[[0.0, 25.0]], angles=[angle]
    )
    assert main([str(folder), "--cache", str(cache)]) == 0
    printed = capsys.readouterr().out
    assert "0 of 1 reps found, 6 counted, 6 in empty stretches" in printed
    assert "0 of 1 clips with exactly the true reps" in printed


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"clip": "gone.mp4"}, "'gone.mp4', number 1 in truth.json, is not in the folder"),
        ({"clip": "../x.mp4"}, "clips.1.clip"),
        ({"exercise": "no-such-thing"}, "no-such-thing"),
        ({"reps": [[4.0, 1.0]]}, "one of the reps ends before it starts"),
        ({"reps": [[1.0, 3.0], [2.0, 4.0]]}, "two of the reps overlap"),
        ({"reps": [[1.0]]}, "clips.1.reps.1"),
        ({"reps": [[1.0, float("nan")]]}, "clips.1.reps.1.2"),
        ({"note": "mine"}, "clips.1.note"),
        ({"angles": [{"signal": "arm_rise", "side": "left", "t": [1], "degrees": [2]}]}, "'arm_rise' is no angle"),
        ({"angles": [{"signal": "arm_raise", "t": [1], "degrees": [2]}]}, "arm_raise needs a side"),
        ({"angles": [{"signal": "arm_raise", "side": "left", "t": [1, 2], "degrees": [2]}]}, "2 moments and 1 angles"),
        ({"angles": [{"signal": "arm_raise", "side": "left", "t": [2, 1], "degrees": [2, 3]}]}, "do not rise"),
    ],
)
def test_a_truth_file_that_breaks_the_format_is_one_sentence(
    changes: dict[str, Any], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from real_people import main

    folder = write_folder(tmp_path, ["lateral_raise_front_clean"], **changes)
    assert main([str(folder), "--cache", str(tmp_path / "cache")]) == 1
    told = capsys.readouterr()
    assert words in told.err
    assert len(told.err.strip().splitlines()) == 1
    assert not told.out


@pytest.mark.parametrize("text", [b"", b"{", b"\xff\xfe", b"[]", b'{"format": 2, "clips": []}', b"[" * 100_000])
def test_a_file_that_is_no_truth_file_is_one_sentence(
    text: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from real_people import main

    (tmp_path / "truth.json").write_bytes(text)
    for folder in (tmp_path, tmp_path / "nowhere"):
        assert main([str(folder), "--cache", str(tmp_path / "cache")]) == 1
        assert len(capsys.readouterr().err.strip().splitlines()) == 1


# ---------------------------------------------------------------- the open films


def test_what_cannot_be_fetched_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import real_films
    from real_people import main

    monkeypatch.setattr(real_films, "PACKAGES", ("musicalgestures==0.0.0.dev999",))
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    assert main(["--cache", str(tmp_path / "cache")]) == 1
    told = capsys.readouterr().err
    assert "fetch" in told
    assert len(told.strip().splitlines()) == 1


@pytest.fixture(scope="module")
def films() -> Path:
    """The open films, where they were fetched before, or are asked for by FORMCHECK_REAL_PEOPLE=1."""
    from real_films import WANTED, NotFetchedError, fetch_films
    from real_people import default_cache

    folder = default_cache()
    there = all((folder / name).is_file() for name in WANTED)
    if not there and os.environ.get("FORMCHECK_REAL_PEOPLE") != "1":
        pytest.skip("the films of real people are not here: FORMCHECK_REAL_PEOPLE=1 fetches them (77 MB)")
    try:
        return fetch_films(folder)
    except NotFetchedError as error:
        pytest.skip(str(error))


def test_the_arms_line_of_a_real_person_agrees_with_her_silhouette(films: Path) -> None:
    """Against the silhouette, which is good to about 3 degrees itself (docs/real-people.md has the figures)."""
    import formcheck
    from real_films import DANCER
    from real_people import EMPTY, RAISE_EXERCISE, RAISES, compare_reps, hold_against_silhouette

    recording = formcheck.find_landmarks(films / DANCER, keep_in=films / "landmarks")
    rows = [row for each in hold_against_silhouette(recording, films / DANCER).values() for row in each]
    assert len(rows) > 200
    _, true, told = np.array(rows).T
    assert np.median(np.abs(told - true)) < 3.5
    found = compare_reps(formcheck.analyse(recording, RAISE_EXERCISE, view="front"), RAISES, EMPTY)
    assert (found.found, found.in_empty) == (3, 0)


def test_four_cameras_agree_on_a_real_person(films: Path) -> None:
    """Their rays meet, and seen from the front the upper arm is within 6 degrees of what they see together."""
    import formcheck
    from formcheck.core.model import Settings
    from formcheck.signals.angles import compute_signals
    from formcheck.signals.camera import estimate_view
    from real_films import CALIBRATION, CAMERAS, FOUR, compute_space_angles, read_calibration, triangulate

    recordings = [
        formcheck.find_landmarks(films / FOUR / "videos" / f"{name}.mp4", keep_in=films / "landmarks")
        for name in CAMERAS
    ]
    seen = triangulate(recordings, read_calibration(films / CALIBRATION))
    assert np.nanmedian(seen.off_px) < 25
    true = compute_space_angles(seen.points, np.array([0.0, 0.0, 1.0]))
    front = recordings[1]
    signals = compute_signals(front, estimate_view(front, "auto"), Settings(fit_body=False))
    told = np.interp(seen.t, signals.t, signals.get("arm_elevation", "left"))
    assert np.nanmedian(np.abs(told - true["arm_elevation", "left"])) < 6.0
