"""From a clip to a review and its files."""

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.errors import ClipError, OutputError, UsageError
from formcheck.core.model import SetInfo, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode
from formcheck.services.pipeline import Outputs, review_clip
from formcheck.video.clip_file import compute_clip_sha256
from tests import lifter

RAISE = get_exercise("lateral-raise")


def left_in(folder: Path) -> set[str]:
    return {entry.name for entry in folder.iterdir()}


# ---------------------------------------------------------------- reviewing


def test_a_clip_becomes_the_review_of_what_the_estimator_saw(clip: Path, estimator: Any, tmp_path: Path) -> None:
    reports: list[tuple[float, float | None]] = []
    analysis, recording = review_clip(
        clip,
        RAISE,
        view="front",
        set_info=SetInfo(6.0, 4),
        cache_dir=tmp_path / "recordings",
        on_progress=lambda done, total: reports.append((done, total)),
    )
    review = analysis.review
    assert [rep.complete for rep in review.reps] == [True] * 4
    # The figure tops out in the middle of its reps of 2.5 s, the first of which begins after 1 s.
    assert [rep.top_s for rep in review.reps] == pytest.approx([2.25, 4.75, 7.25, 9.75], abs=0.15)
    assert (review.set_info.load_kg, review.view.name, review.view.origin) == (6.0, "front", "given")
    assert len(recording.t) == estimator.seen == 144
    times = [done for done, _ in reports]
    assert times == sorted(times)
    assert reports[-1][0] == pytest.approx(12.0, abs=0.2)


def test_the_second_review_needs_no_pose_model(clip: Path, estimator: Any, tmp_path: Path) -> None:
    first, _ = review_clip(clip, RAISE, cache_dir=tmp_path / "recordings")
    seen = estimator.seen
    second, _ = review_clip(clip, RAISE, cache_dir=tmp_path / "recordings")
    assert estimator.seen == seen > 0
    assert second.review == first.review


def test_the_pipeline_adds_nothing_to_the_analysis(clip: Path, estimator: Any, tmp_path: Path) -> None:
    settings = dataclasses.replace(Settings(), cutoff_hz=4.0)
    analysis, recording = review_clip(clip, RAISE, settings=settings, cache_dir=tmp_path / "recordings")
    pure = analyse(recording, RAISE, settings=settings)
    assert pure.review == analysis.review
    np.testing.assert_array_equal(pure.driver, analysis.driver)


def test_a_pose_model_of_one_s_own_is_used(clip: Path, estimator: Any, tmp_path: Path) -> None:
    used: list[object] = []

    def factory() -> Any:
        made = estimator("mine.task")
        used.append(made.model_path)
        return made

    review_clip(clip, RAISE, estimator_factory=factory, cache_dir=tmp_path / "recordings")
    # One look over the clip and one for every chunk: each by the model given, and no picture by another.
    assert used
    assert set(used) == {"mine.task"}


def test_a_clip_that_is_not_there_is_a_clip_error(tmp_path: Path, estimator: Any) -> None:
    with pytest.raises(ClipError):
        review_clip(tmp_path / "none.mp4", RAISE, cache_dir=tmp_path / "recordings")


# ---------------------------------------------------------------- writing files


def test_every_file_asked_for_is_written_and_nothing_else(clip: Path, estimator: Any, tmp_path: Path) -> None:
    outputs = Outputs(*(clip.parent / name for name in ("set.json", "set.html", "drawn.mp4")))
    outputs.check(clip)
    assert left_in(clip.parent) == {"set.mp4"}
    analysis, recording = review_clip(clip, RAISE, cache_dir=tmp_path / "recordings")
    outputs.write(analysis, recording, clip, RAISE)
    assert left_in(clip.parent) == {"set.mp4", "set.json", "set.html", "drawn.mp4"}
    assert decode((clip.parent / "set.json").read_bytes()).exercise.id == "lateral-raise"
    assert "</html>" in (clip.parent / "set.html").read_text(encoding="utf-8")
    assert (clip.parent / "drawn.mp4").read_bytes()[4:8] == b"ftyp"  # ISO/IEC 14496-12, file type box


def test_pictures_of_another_clip_than_the_one_reviewed_are_not_written(clip: Path, tmp_path: Path) -> None:
    plan = lifter.Set((90.0,) * 2)
    t = lifter.times(plan.length_s)
    recording = lifter.film(t, left=plan.course(t), right=plan.course(t))
    analysis = analyse(recording, RAISE)
    for outputs in (Outputs(report=tmp_path / "set.html"), Outputs(pdf=tmp_path / "set.pdf")):
        with pytest.raises(ClipError, match="changed"):
            outputs.write(analysis, recording, clip, RAISE)
    assert list(tmp_path.glob("set.*")) == []


def test_the_drawn_clip_of_a_squat_says_lowering_first(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = lifter.Set((100.0,) * 3, low=5.0)
    t = lifter.times(plan.length_s)
    recording = lifter.film(t, knee=plan.course(t), yaw=90.0)
    recording = dataclasses.replace(
        recording, clip=dataclasses.replace(recording.clip, sha256=compute_clip_sha256(clip))
    )
    squat = get_exercise("squat")
    analysis = analyse(recording, squat)
    shown: list[Any] = []

    def note(*_paths: Any, captions: Any, **_options: Any) -> None:
        shown.extend(captions)

    monkeypatch.setattr("formcheck.report.overlay.write_overlay", note)
    Outputs(overlay=tmp_path / "drawn.mp4").write(analysis, recording, clip, squat)
    order = ["lowering", "pause below", "lifting", "pause at the top"]
    assert [caption.text for caption in shown[:4]] == [f"Rep 1: {words}" for words in order]
    assert shown[0].start_s == pytest.approx(plan.before_s, abs=0.15)


def test_no_outputs_write_nothing(clip: Path, estimator: Any, tmp_path: Path) -> None:
    analysis, recording = review_clip(clip, RAISE, cache_dir=tmp_path / "recordings")
    Outputs().check(clip)
    Outputs().write(analysis, recording, clip, RAISE)
    assert left_in(clip.parent) == {"set.mp4"}


@pytest.mark.parametrize(
    ("names", "says"),
    [
        ({"report": "set.pdf"}, "--report"),
        ({"report": "-"}, "--report"),
        ({"overlay": "set.mov"}, "--overlay"),
        ({"json": "same.html", "report": "./same.html"}, "same name"),
        ({"overlay": "set.mp4"}, "the clip itself"),
    ],
)
def test_outputs_that_contradict_are_bad_use(clip: Path, names: dict[str, str], says: str) -> None:
    with pytest.raises(UsageError, match=says):
        Outputs(**{kind: clip.parent / name for kind, name in names.items()}).check(clip)


def test_a_link_to_the_clip_is_the_clip(clip: Path) -> None:
    (clip.parent / "other.mp4").symlink_to(clip)
    with pytest.raises(UsageError, match="the clip itself"):
        Outputs(overlay=clip.parent / "other.mp4").check(clip)


@pytest.mark.parametrize("place", ["no-such-folder/a.json", "set.mp4/a.json", "folder"])
def test_a_place_that_cannot_be_written_is_found_out_before_the_work(clip: Path, place: str) -> None:
    (clip.parent / "folder").mkdir()
    with pytest.raises(OutputError) as caught:
        Outputs(json=clip.parent / place).check(clip)
    assert str(caught.value).endswith(".")
    assert left_in(clip.parent) == {"set.mp4", "folder"}


def test_a_check_changes_nothing_that_is_there(clip: Path) -> None:
    existing = clip.parent / "kept.json"
    existing.write_text("mine")
    Outputs(json=existing).check(clip)
    assert existing.read_text() == "mine"
