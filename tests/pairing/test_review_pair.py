"""One review of a set two cameras filmed: the truth is how the stick figure was moved."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from formcheck.analysis import analyse
from formcheck.core.errors import PairingError
from formcheck.core.model import Analysis, Scene, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.formats import SCHEMA_PATH, decode, encode
from formcheck.pairing.pair_review import review_pair
from formcheck.report.set_report import render_report
from formcheck.storage import Store
from tests.pairing.sets import POSES, Plan, filmed, lateral

PLAN = Plan()
EXACT = Settings(correct_landmarks=False, fit_body=False)
LATERAL = get_exercise("lateral-raise")


@pytest.fixture(scope="module")
def pair() -> Analysis:
    """A lateral raise with a swinging torso, from the front and, 0.8 s later, from the left."""

    def swinging(course: object) -> dict[str, object]:
        return lateral(course, swing=-22.0)  # type: ignore[arg-type]

    front = filmed(PLAN, swinging, yaw=0.0)
    side = filmed(PLAN, swinging, yaw=90.0, rate=25.0, begins=0.8, seed=1, scale=420.0)
    return review_pair(front, side, LATERAL, settings=EXACT)


def test_each_number_names_its_camera(pair: Analysis) -> None:
    for measure in pair.review.measures:
        assert (measure.camera is None) == (measure.value is None)
    used = {(measure.name, measure.camera) for measure in pair.review.measures if measure.value is not None}
    assert ("arm_elevation_peak", "first") in used
    assert ("torso_inclination_range", "second") in used


def test_both_cameras_together_see_what_neither_sees_alone(pair: Analysis) -> None:
    peak = pair.review.measure("arm_raise_peak", rep=1, side="left")
    swing = pair.review.measure("torso_inclination_range", rep=1)
    assert peak is not None
    assert swing is not None
    assert peak.value == pytest.approx(90.0, abs=1.5)
    assert swing.value == pytest.approx(22.0, abs=1.5)
    found = {finding.check: finding.verdict for finding in pair.review.findings}
    assert found["no-swing"] == "not_met"


def test_every_time_is_on_the_first_clips_clock(pair: Analysis) -> None:
    review = pair.review
    assert [len(review.reps), review.second and review.second.reps_from] == [4, "first"]
    starts, now = [], PLAN.before
    for durations in zip(PLAN.up, PLAN.held, PLAN.down, PLAN.waited, strict=True):
        starts.append(now)
        now += sum(durations)
    for rep, start, far in zip(review.reps, starts, PLAN.up, strict=True):
        assert rep.start_s == pytest.approx(start, abs=0.15)
        assert start < rep.top_s < start + far + 1.0
    moments = [item.at_s for item in review.findings if item.check == "no-swing" and item.at_s is not None]
    assert moments
    for moment in moments:
        assert any(rep.start_s - 0.1 <= moment <= rep.end_s + 0.1 for rep in review.reps)


def test_the_roles_may_be_changed_without_changing_the_set() -> None:
    front = filmed(PLAN, POSES["squat"], yaw=0.0)
    side = filmed(PLAN, POSES["squat"], yaw=90.0, begins=0.6, seed=1)
    there = review_pair(front, side, get_exercise("squat")).review
    back = review_pair(side, front, get_exercise("squat")).review
    assert there.second is not None
    assert back.second is not None
    assert there.second.offset_s == pytest.approx(-back.second.offset_s, abs=0.005)
    assert len(there.reps) == len(back.reps) == 4
    assert {there.second.reps_from, back.second.reps_from} == {"first", "second"}
    for ours, theirs in zip(there.reps, back.reps, strict=True):
        assert ours.start_s - there.second.offset_s == pytest.approx(theirs.start_s, abs=0.05)


def test_a_rep_only_one_camera_filmed_is_measured_by_that_one() -> None:
    front = filmed(PLAN, lateral, yaw=0.0)
    late = filmed(PLAN, lateral, yaw=90.0, begins=5.2, seed=1)
    review = review_pair(front, late, LATERAL, settings=EXACT).review
    assert len(review.reps) == 4
    first, last = (review.measure("torso_inclination_range", rep=number) for number in (1, 4))
    assert first is not None
    assert last is not None
    assert first.value is None
    assert last.camera == "second"


def test_the_document_is_of_the_published_format_and_comes_back(pair: Analysis) -> None:
    text = encode(pair.review)
    Draft202012Validator(json.loads(SCHEMA_PATH.read_text())).validate(json.loads(text))
    back = decode(text)
    assert back.second is not None
    assert back.second.clip == pair.review.second.clip  # type: ignore[merge_reps-attr]
    assert encode(back) == text


def test_store_and_report_carry_a_merged_review(pair: Analysis, tmp_path: Path) -> None:
    with Store.open(tmp_path / "reviews.db") as store:
        number = store.save_review(pair.review, created_at=datetime(2026, 3, 1, tzinfo=UTC))
        assert store.load_review(number).second is not None
    report = render_report(pair, LATERAL)
    assert "Second camera: clip “invented.mp4”" in report
    assert "It began 0.80 s after the first" in report
    assert "\u00a0(2)" in report


def test_a_review_from_one_camera_says_nothing_of_cameras() -> None:
    alone = analyse(filmed(PLAN, lateral, yaw=0.0), LATERAL)
    assert alone.review.second is None
    report = render_report(alone, LATERAL)
    assert "Second camera" not in report
    assert "\u00a0(1)" not in report


def test_a_clip_with_nobody_in_it_is_refused() -> None:
    import numpy as np

    from tests import lifter

    front = filmed(PLAN, lateral, yaw=0.0)
    n = len(front.t)
    nobody = lifter.recording(np.array(front.t), np.full((n, 33, 2), np.nan), np.full((n, 33, 3), np.nan),
                              np.zeros((n, 33)))  # fmt: skip
    for clips in ((front, nobody), (nobody, front)):
        with pytest.raises(PairingError):
            review_pair(*clips, LATERAL)


def test_of_a_cut_clip_the_longest_part_is_used() -> None:
    """Cut in the first rep: three reps are in both clips' longest parts, on a clock that begins after the cut."""
    front = filmed(PLAN, lateral, yaw=0.0)
    side = filmed(PLAN, lateral, yaw=90.0, begins=0.0, seed=1)
    whole = review_pair(front, side, LATERAL, settings=EXACT).review
    cut = replace(front, scene=Scene(cuts=(round(whole.reps[0].end_s, 4),)))
    review = review_pair(cut, side, LATERAL, settings=EXACT).review
    assert [rep.top_s for rep in review.reps] == pytest.approx([rep.top_s for rep in whole.reps[1:]], abs=0.04)
    assert review.second is not None
    assert review.second.offset_s == pytest.approx(0.0, abs=1 / 30)  # within a frame, as for clips without a cut
    assert any("only its longest part is used" in note for note in review.quality.notes)
    assert not any("only its longest part is used" in note for note in review.second.quality.notes)
