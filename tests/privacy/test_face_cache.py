"""What leaves with faces covered shows none, and a clip in which that cannot be done stays at home."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import av
import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.pose.recording import save_recording
from formcheck.privacy import other_faces
from formcheck.privacy.head_cover import make_head_cover
from formcheck.services.export import export_client
from formcheck.services.review_outputs import load_review_outputs
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from formcheck.video.clip_file import compute_clip_sha256
from formcheck.video.reader import ClipReader
from tests import lifter
from tests.privacy.test_head_cover import NobodyElse

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
EVERY = 6


@pytest.fixture(autouse=True)
def _nobody_else(monkeypatch: pytest.MonkeyPatch) -> None:
    """These are about the lifter's head; how others are found is tried in `tests/privacy/test_other_faces.py`."""
    monkeypatch.setattr(other_faces, "FaceFinder", NobodyElse)


def recorded() -> LandmarkRecording:
    plan = lifter.Set((90.0, 88.0))
    t = lifter.times(plan.length_s)
    return lifter.film(t, left=plan.course(t), right=plan.course(t))


def chequered(target: Path, recording: LandmarkRecording) -> Path:
    """A clip with the recording's size and length, chequered all over, shown at every sixth of its moments."""
    width, height = recording.clip.width, recording.clip.height
    down, across = np.mgrid[:height, :width] // 8
    board = np.where((down + across) % 2, 220, 30).astype(np.uint8)
    picture = np.repeat(board[:, :, None], 3, axis=2)
    with av.open(str(target), "w") as container:
        stream = container.add_stream("libx264", rate=round(recording.clip.frame_rate / EVERY))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        for _ in recording.t[::EVERY]:
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))
    return target


def keep(store: Store, home: Path, clip: Path, recording: LandmarkRecording) -> int:
    known = replace(recording, clip=replace(recording.clip, name=clip.name, sha256=compute_clip_sha256(clip)))
    place = home / "recordings" / f"{known.clip.sha256[:32]}-{known.pose_model.sha256[:16]}-1.npz"
    place.parent.mkdir(parents=True, exist_ok=True)
    save_recording(known, place)
    review = analyse(known, get_exercise("lateral-raise")).review
    return store.save_review(review, created_at=NOON, client="Ada", clip_path=clip, session_on=date(2026, 3, 1))


def sharp_share(clip: Path, recording: LandmarkRecording) -> list[float]:
    """Share of strong edges a picture has in the middle of the head, against the whole chequered board."""
    cover, found = make_head_cover(recording), []
    with ClipReader(clip) as reader:
        for t, rgb in reader:
            circles = cover.covers(t)
            assert circles is not None
            x, y, radius = circles[0]
            down, across = np.ogrid[: rgb.shape[0], : rgb.shape[1]]
            inside = (across - x) ** 2 + (down - y) ** 2 < (0.6 * radius) ** 2
            edges = np.abs(np.diff(rgb[..., 1].astype(int), axis=1, prepend=0)) > 60
            found.append(float(edges[inside].mean()))
    return found


def test_the_exported_clip_shows_no_head_and_nothing_of_the_original_is_in_it(store: Store, tmp_path: Path) -> None:
    recording = recorded()
    clip = chequered(tmp_path / "set.mp4", recording)
    keep(store, tmp_path, clip, recording)
    plain, covered = tmp_path / "plain", tmp_path / "covered"
    export_client(store, "Ada", plain, tmp_path, exported_at=NOON)
    done = export_client(store, "Ada", covered, tmp_path, exported_at=NOON, blur_faces=True)
    assert done.clips == 1
    (before,), (after,) = (list(folder.rglob("clip.mp4")) for folder in (plain, covered))
    assert min(sharp_share(before, recording)) > 0.05
    assert max(sharp_share(after, recording)) < 0.002
    assert len(sharp_share(after, recording)) == len(sharp_share(before, recording))
    original = clip.read_bytes()
    assert not any(path.is_file() and path.read_bytes() == original for path in covered.rglob("*"))
    stills = [
        re.findall(r"data:image/jpeg[^\"]*", (next(folder.rglob("report.html"))).read_text())
        for folder in (plain, covered)
    ]
    assert len(stills[0]) == len(stills[1]) > 0
    assert not set(stills[0]) & set(stills[1])


def test_a_clip_whose_head_cannot_be_covered_stays_out(store: Store, tmp_path: Path) -> None:
    clip = tmp_path / "set.mp4"
    clip.write_text("not a film at all, only said to be one")
    keep(store, tmp_path, clip, recorded())
    done = export_client(store, "Ada", tmp_path / "out", tmp_path, exported_at=NOON, blur_faces=True)
    assert done.clips == 0
    assert not list((tmp_path / "out").rglob("clip*"))
    assert any("face covered" in sentence for sentence in done.missing)


def test_one_look_for_faces_serves_every_file_on_other_days_too(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recording = recorded()
    number = keep(store, tmp_path, chequered(tmp_path / "set.mp4", recording), recording)
    DataFolder(tmp_path).artifacts(number).folder.mkdir(parents=True)
    first = load_review_outputs(store, number, tmp_path).report_html(blur_faces=True)
    assert DataFolder(tmp_path).artifacts(number).faces.is_file()
    other_faces._find_cached.cache_clear()  # another process remembers nothing
    monkeypatch.setattr(other_faces, "FaceFinder", None)  # looking again would fail
    later = load_review_outputs(store, number, tmp_path)
    assert later.report_html(blur_faces=True) == first
    later.write_film(tmp_path / "film.mp4", blur_faces=True)


def test_a_handout_without_its_clip_has_a_report_without_pictures(store: Store, tmp_path: Path) -> None:
    recording = recorded()
    clip = chequered(tmp_path / "set.mp4", recording)
    number = keep(store, tmp_path, clip, recording)
    assert "data:image/jpeg" in load_review_outputs(store, number, tmp_path).report_html(blur_faces=True)
    clip.write_bytes(b"somebody else's clip now")
    left = load_review_outputs(store, number, tmp_path)
    assert left.clip is None
    assert "data:image/jpeg" not in left.report_html()
    assert left.report_pdf().startswith(b"%PDF")
