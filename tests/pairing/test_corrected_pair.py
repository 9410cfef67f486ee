"""A review from two cameras, corrected by hand: both cameras follow."""

import dataclasses
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.core.errors import UsageError
from formcheck.core.model import LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.pairing.pair_review import review_pair
from formcheck.pose.recording import save_recording
from formcheck.reps.edits import Edits, Placed, add_rep, delete_rep, move_rep
from formcheck.services.stored_analysis import analyse_corrected, correct
from formcheck.storage import Store
from tests.pairing.sets import Plan, filmed, lateral

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATERAL = get_exercise("lateral-raise")


def of_clip(film: LandmarkRecording, sign: str) -> LandmarkRecording:
    return dataclasses.replace(film, clip=dataclasses.replace(film.clip, sha256=sign * 64, name=f"{sign}.mp4"))


@pytest.fixture(scope="module")
def films() -> tuple[LandmarkRecording, LandmarkRecording]:
    front = filmed(Plan(), lateral, yaw=0.0)
    side = filmed(Plan(), lateral, yaw=90.0, rate=25.0, begins=0.8, seed=1, scale=420.0)
    return of_clip(front, "a"), of_clip(side, "b")


def test_both_cameras_follow_a_correction(films: tuple[LandmarkRecording, LandmarkRecording], tmp_path: Path) -> None:
    for film in films:
        name = f"{film.clip.sha256[:32]}-{film.pose_model.sha256[:16]}-1.npz"
        save_recording(film, tmp_path / "recordings" / name)
    plain = review_pair(*films, LATERAL).review
    with Store.open(tmp_path / "r.sqlite") as store:
        number = store.save_review(plain, created_at=NOON)
        reps = store.load_review(number).reps
        first = delete_rep(Edits(), reps, 2)
        gone = correct(store, number, first, tmp_path, created_at=NOON).review
        assert [rep.start_s for rep in gone.reps] == pytest.approx([reps[n].start_s for n in (0, 2, 3)], abs=0.02)
        assert gone.second is not None
        assert plain.second is not None
        assert gone.second.offset_s == pytest.approx(plain.second.offset_s, abs=1e-3)
        back = add_rep(first, gone.reps, reps[1].start_s, reps[1].end_s)
        back = move_rep(back, gone.reps, 3, end_s=gone.reps[2].end_s - 0.2)
        again = correct(store, number, back, tmp_path, created_at=NOON).review
        assert [rep.by_hand for rep in again.reps] == [False, True, False, True]
        for name, camera in (("arm_raise_peak", "first"), ("torso_inclination_range", "second")):
            side = "left" if name == "arm_raise_peak" else None
            one, other = (item.measure(name, rep=2, side=side) for item in (plain, again))  # type: ignore[arg-type]
            assert one is not None
            assert other is not None
            assert other.value == pytest.approx(one.value, abs=1.0)
            assert other.camera in (camera, "both")
        assert len(again.by_hand) == 3
        with pytest.raises(UsageError, match="outside both clips"):
            analyse_corrected(store, number, Edits(placed=(Placed(300, 303),)), tmp_path)
