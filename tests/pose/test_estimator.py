"""The pose model's bundle, its estimator on a rendered clip with known angles, and a quiet terminal."""

import hashlib
import json
import os
import re
import subprocess
import sys
import zipfile
from itertools import islice
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from formcheck.core.errors import PoseModelError
from formcheck.core.model import LandmarkRecording
from formcheck.pose import estimator as pose
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.model_bundle import BUNDLE_PATH, CHECKSUM_PATH, find_packaged_bundle, read_expected_sha256
from formcheck.sandbox.sandboxed_tracking import track_clip
from formcheck.signals.skeleton import INDEX
from formcheck.video.reader import ClipReader
from tests.excerpt import excerpt
from tests.video.clips import write_clip

DEMO = "lateral_raise_front_clean"


@pytest.fixture(scope="module")
def demo(root: Path) -> Path:
    return root / "clips_demo" / f"{DEMO}.mp4"


@pytest.fixture(scope="module")
def tracked(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> LandmarkRecording:
    """The first three repetitions."""
    demo = excerpt(demo, tmp_path_factory.mktemp("first") / demo.name, 12.0)
    return track_clip(demo, MediaPipeEstimator)


# ---------------------------------------------------------------- the bundle


def test_bundle_is_the_one_the_provenance_describes() -> None:
    path, sha256 = find_packaged_bundle()
    assert hashlib.sha256(path.read_bytes()).hexdigest() == sha256 == read_expected_sha256()
    provenance = (path.parent / "PROVENANCE.md").read_text(encoding="utf-8")
    assert f"{path.stat().st_size:,} bytes" in provenance
    assert "Apache License" in (path.parent / "LICENSE.txt").read_text(encoding="utf-8")
    with zipfile.ZipFile(path) as archive:
        for member in archive.infolist():
            assert member.compress_type == zipfile.ZIP_STORED
            assert member.filename in provenance
            assert (member.header_offset + 30 + len(member.filename) + len(member.extra)) % 64 == 0


def test_bundle_holds_the_original_weights() -> None:
    from mediapipe.tasks.metadata import schema_py_generated as tflite

    # digests of the two networks as they are in the wheel named in PROVENANCE.md, taken before anything was added
    expected = {"pose_detector.tflite": CONSTANTS[0], "pose_landmarks_detector.tflite": CONSTANTS[1]}
    with zipfile.ZipFile(BUNDLE_PATH) as archive:
        for name, digest in expected.items():
            model = tflite.ModelT.InitFromObj(tflite.Model.GetRootAsModel(archive.read(name), 0))
            assert constants_digest(model) == digest


def constants_digest(model) -> str:  # type: ignore[no-untyped-def]  # generated classes have no types
    """SHA-256 over all weights in the order of the graph's tensors."""
    digest = hashlib.sha256()
    for tensor in model.subgraphs[0].tensors:
        data = model.buffers[tensor.buffer].data
        if data is not None:
            digest.update(bytes(bytearray(data)))
    return digest.hexdigest()


CONSTANTS = (
    "54f84fd6f771d3bce27e888fa432a49f5b9bb913804faa60e846f4ef08a2ac77",
    "4059da04c71343bbcaed97a84dc1db41dbc3d9778b308ccf7d354cdc7304ea46",
)


def test_networks_are_put_together_the_same_way_every_time() -> None:
    from formcheck.pose.model_bundle.rebuild import make_bundle

    with zipfile.ZipFile(BUNDLE_PATH) as archive:
        networks = {name: archive.read(name) for name in archive.namelist()}
    assert make_bundle(networks) == BUNDLE_PATH.read_bytes()


@pytest.mark.parametrize("damage", ["missing", "changed", "no checksum"])
def test_damaged_installation_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damage: str) -> None:
    import formcheck.pose.model_bundle as place

    bundle, checksum = tmp_path / BUNDLE_PATH.name, tmp_path / CHECKSUM_PATH.name
    data = bytearray(BUNDLE_PATH.read_bytes())
    data[1000] ^= 1
    if damage != "missing":
        bundle.write_bytes(data)
    if damage != "no checksum":
        checksum.write_bytes(CHECKSUM_PATH.read_bytes())
    monkeypatch.setattr(place, "BUNDLE_PATH", bundle)
    monkeypatch.setattr(place, "CHECKSUM_PATH", checksum)
    with pytest.raises(PoseModelError, match=r"install formcheck again\.$"), MediaPipeEstimator():
        pass


def test_other_bundles(tmp_path: Path) -> None:
    missing = MediaPipeEstimator(tmp_path / "none.task")
    with pytest.raises(PoseModelError, match="does not exist"):
        _ = missing.info
    with pytest.raises(PoseModelError, match="does not exist"), missing:
        pass
    with pytest.raises(PoseModelError, match="is not a file"), MediaPipeEstimator(tmp_path):
        pass
    picture = np.zeros((4, 4, 3), np.uint8)
    for content in (b"", b"not a bundle", BUNDLE_PATH.read_bytes()[:500_000]):
        bad = tmp_path / "bad.task"
        bad.write_bytes(content)
        for use in (lambda model: model.detect(picture, 0.0), lambda model: model.find_people(picture)):
            with (
                pytest.raises(PoseModelError, match="not a pose landmarker bundle") as caught,
                MediaPipeEstimator(bad) as model,
            ):
                use(model)
            assert "\n" not in str(caught.value)


def test_info_does_not_load_anything(tmp_path: Path) -> None:
    code = (
        "import sys; from formcheck.pose.estimator import MediaPipeEstimator; e = MediaPipeEstimator(); "
        "print(e.info.name, e.info.sha256, 'mediapipe' in sys.modules, 'cv2' in sys.modules, 'av' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["pose_landmarker_full", read_expected_sha256(), "False", "False", "False"]
    copy = tmp_path / "copy.task"
    copy.write_bytes(BUNDLE_PATH.read_bytes())
    assert MediaPipeEstimator(copy).info.sha256 == read_expected_sha256()
    assert MediaPipeEstimator(copy).info.name == "copy"


def test_finding_people_and_following_one_load_a_model_each(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded: list[int] = []
    create = pose._create_landmarker

    def count(tasks: object, path: Path, people: int) -> object:
        loaded.append(people)
        return create(tasks, path, people)

    monkeypatch.setattr(pose, "_create_landmarker", count)
    picture = np.zeros((64, 64, 3), np.uint8)
    with MediaPipeEstimator() as model:
        assert loaded == []
        model.find_people(picture)
        model.find_people(picture)
        assert loaded == [pose.MOST_PEOPLE]
        model.detect(picture, 0.0)
        model.detect(picture, 0.1)
        assert loaded == [pose.MOST_PEOPLE, 1]


def test_detect_outside_of_the_block() -> None:
    with pytest.raises(ValueError, match="with block"):
        MediaPipeEstimator().detect(np.zeros((4, 4, 3), np.uint8), 0.0)


# ---------------------------------------------------------------- the model on pictures


@pytest.mark.pose
def test_every_frame_is_found_and_the_person_faces_the_camera(tracked: LandmarkRecording) -> None:
    assert np.isfinite(tracked.pixels).all()
    assert np.isfinite(tracked.world).all()
    shoulders = tracked.pixels[:, [INDEX["left_shoulder"], INDEX["right_shoulder"]], 0]
    assert (shoulders[:, 0] > shoulders[:, 1]).all()  # the lifter's left is at the right of the picture
    head, ankle = tracked.pixels[:, INDEX["nose"], 1], tracked.pixels[:, INDEX["left_ankle"], 1]
    assert (head < ankle).all()
    assert (tracked.visibility[:, INDEX["left_shoulder"]] > 0.5).all()


@pytest.mark.pose
def test_arm_angle_follows_the_truth_without_lag(tracked: LandmarkRecording, root: Path) -> None:
    truth = json.loads((root / "clips_demo" / f"{DEMO}.truth.json").read_text(encoding="utf-8"))
    t_true = np.array(truth["frames"]["t"])
    for side in ("left", "right"):
        upper_arm = tracked.pixels[:, INDEX[f"{side}_elbow"]] - tracked.pixels[:, INDEX[f"{side}_shoulder"]]
        angle = np.degrees(np.arctan2(np.abs(upper_arm[:, 0]), upper_arm[:, 1]))
        true = np.array(truth["frames"][f"{side}_arm_raise"])

        def misfit(lag: float, angle: np.ndarray = angle, true: np.ndarray = true) -> float:
            shifted = np.interp(tracked.t - lag, t_true, true)
            basis = np.stack([shifted, np.ones_like(shifted)], axis=1)  # scale and offset are not what is asked here
            return float(np.std(angle - basis @ np.linalg.lstsq(basis, angle, rcond=None)[0]))

        lags = np.arange(-0.06, 0.0601, 0.002)
        best = lags[int(np.argmin([misfit(lag) for lag in lags]))]
        frame = 1 / tracked.clip.frame_rate
        # with true time stamps the model's own smoothing lags by 0.25 to 0.55 frames
        assert abs(best) < 0.2 * frame
        assert np.sqrt(np.mean((angle - np.interp(tracked.t, t_true, true)) ** 2)) < 5


@pytest.mark.pose
def test_same_clip_same_landmarks(tracked: LandmarkRecording, demo: Path) -> None:
    with MediaPipeEstimator() as estimator, ClipReader(demo) as reader:
        looked_at = (frame for frame in reader if np.isclose(frame.t, tracked.t, atol=1e-6).any())
        for index, frame in enumerate(islice(looked_at, 12)):
            pose = estimator.detect(frame.rgb, frame.t)
            assert pose is not None
            full = pose.pixels * (reader.width / frame.rgb.shape[1], reader.height / frame.rgb.shape[0])
            assert np.abs(full - tracked.pixels[index]).max() <= 1 / 64 + 1e-9


@pytest.mark.pose
def test_padded_rows_are_read_like_plain_ones(demo: Path) -> None:
    with ClipReader(demo) as reader:
        rgb = next(iter(reader)).rgb
    wide = np.zeros((rgb.shape[0], rgb.shape[1] + 13, 3), np.uint8)
    wide[:, : rgb.shape[1]] = rgb
    poses = []
    for picture in (rgb, wide[:, : rgb.shape[1]]):
        with MediaPipeEstimator() as estimator:
            poses.append(estimator.detect(picture, 0.0))
    assert poses[0] is not None
    assert poses[1] is not None
    assert np.array_equal(poses[0].pixels, poses[1].pixels)


@pytest.mark.pose
def test_nobody_there(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "nobody.mp4", [0, 0.1, 0.2], size=(320, 240))
    recording = track_clip(path, MediaPipeEstimator)
    assert np.isnan(recording.pixels).all()
    assert np.isnan(recording.world).all()
    assert (recording.visibility == 0).all()


# ---------------------------------------------------------------- the terminal


SPEAK = """
import logging, os, sys
bar = sys.stderr
logging.basicConfig(format="%(message)s", level=logging.WARNING)
import numpy as np
from formcheck.pose.estimator import MediaPipeEstimator
print("before", file=bar)
with MediaPipeEstimator() as estimator:
    print("held", file=bar)
    print("by name", file=sys.stderr)
    logging.warning("logged")
    with MediaPipeEstimator() as second:
        second.detect(np.zeros((64, 64, 3), np.uint8), 0.0)
    estimator.detect(np.zeros((64, 64, 3), np.uint8), 0.0)
    os.write(2, b"native\\n")
print("after", file=bar)
os.write(2, b"free again\\n")
"""
SAID = ["before", "held", "by name", "logged", "after", "free again"]


@pytest.mark.pose
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_terminal_shows_what_python_says_and_nothing_else(unbuffered: str) -> None:
    environment = {**os.environ, "PYTHONUNBUFFERED": unbuffered}
    done = subprocess.run([sys.executable, "-c", SPEAK], capture_output=True, text=True, check=True, env=environment)
    assert done.stderr.splitlines() == SAID
    assert done.stdout == ""


@pytest.mark.pose
def test_terminal_without_standard_error(tmp_path: Path) -> None:
    code = "import os, sys; os.close(2); sys.stderr = None\n" + (
        "from formcheck.pose.estimator import MediaPipeEstimator\nwith MediaPipeEstimator():\n    print('fine')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "fine\n"


@pytest.mark.pose
def test_error_inside_the_block_is_the_only_thing_printed() -> None:
    code = (
        "from formcheck.pose.estimator import MediaPipeEstimator\n"
        "with MediaPipeEstimator() as estimator:\n    raise SystemExit('own sentence')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert re.fullmatch(r"own sentence\n", done.stderr)


LEAN = """
import sys
import numpy as np
from formcheck.pose.estimator import MediaPipeEstimator
with MediaPipeEstimator() as estimator:
    estimator.detect(np.zeros((64, 64, 3), np.uint8), 0.0)
print(sorted({"matplotlib", "matplotlib.pyplot", "sounddevice"} & set(sys.modules)))
import matplotlib.pyplot
print(callable(matplotlib.pyplot.figure))
"""


def test_what_the_model_does_not_use_is_not_loaded_and_can_be_loaded_later() -> None:
    done = subprocess.run([sys.executable, "-c", LEAN], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[:2] == ["[]", "True"]


@pytest.mark.parametrize("version", ["0.10.33", "0.10.35", "1.2.3", "2.0.0", "1.3", "nightly"])
def test_a_library_that_reports_its_use_is_loaded_only_where_it_can_reach_nobody(
    version: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pose, "load_mediapipe", lambda: (SimpleNamespace(__version__=version), SimpleNamespace()))
    monkeypatch.setattr(pose, "are_sockets_denied", lambda: False)
    with pytest.raises(PoseModelError, match=r"reports its use.*0\.10\.32"), MediaPipeEstimator():
        pass
    monkeypatch.setattr(pose, "are_sockets_denied", lambda: True)
    with MediaPipeEstimator():  # goes on
        pass


def test_the_library_that_is_held_reports_nothing() -> None:
    assert not pose.reports_use("0.10.32")
    assert pose.reports_use("0.10.33")
