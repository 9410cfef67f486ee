"""Stored reviews made anew: with corrections by hand, and with own limits."""

import dataclasses
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.analysis import analyse
from formcheck.core.errors import RecordingError, UsageError
from formcheck.core.model import LandmarkRecording, Review
from formcheck.exercises.limits import LimitChange, apply_limits, dump_limits, read_limits
from formcheck.exercises.registry import get_exercise, load_references
from formcheck.findings import judge_again
from formcheck.formats import decode, encode
from formcheck.pose.recording import save_recording
from formcheck.pose.tracking import TRACKER_VERSION
from formcheck.report.set_report import render_report
from formcheck.reps.edits import Edits, delete_rep, move_rep, set_exercise
from formcheck.services.own_limits import GradeChange, exercise_for, find_grade_changes, find_limit_effects
from formcheck.services.stored_analysis import analyse_corrected, correct, load_stored_recording
from formcheck.storage import Store
from formcheck.storage.recording_cache import find_recording, recording_files
from tests import lifter, shelf

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
RAISE = get_exercise("lateral-raise")
PLAN = lifter.Set((97.0, 96.0, 98.0, 68.0))


def kept_as(recording: LandmarkRecording, folder: Path) -> Path:
    clip, model = recording.clip.sha256, recording.pose_model.sha256
    path = folder / f"{clip[:32]}-{model[:16]}-{TRACKER_VERSION}.npz"
    save_recording(recording, path)
    return path


@pytest.fixture(scope="module")
def film() -> LandmarkRecording:
    t = lifter.times(PLAN.length_s)
    made = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t))
    return dataclasses.replace(made, clip=dataclasses.replace(made.clip, sha256="ab" * 32))


@pytest.fixture
def recordings(tmp_path: Path, film: LandmarkRecording) -> Path:
    kept_as(film, tmp_path / "recordings")
    return tmp_path / "recordings"


@pytest.fixture
def review(film: LandmarkRecording, recordings: Path) -> Review:
    kept = find_recording(film.clip.sha256, film.pose_model, recordings)
    return analyse(kept, RAISE).review


# ---------------------------------------------------------------- corrections


def test_a_stored_review_is_corrected_from_its_landmarks(store: Store, review: Review, recordings: Path) -> None:
    number = store.save_review(review, created_at=NOON, client="Ada")
    edits = delete_rep(Edits(), review.reps, 4)
    tried = analyse_corrected(store, number, edits, recordings.parent)
    assert store.load_review(number) == decode(encode(review))  # trying stores nothing
    made = correct(store, number, edits, recordings.parent, created_at=NOON)
    assert made.review == tried.review
    stored = store.load_review(number)
    assert [rep.start_s for rep in stored.reps] == pytest.approx([rep.start_s for rep in review.reps[:3]], abs=1e-3)
    assert stored.by_hand == made.review.by_hand
    assert store.load_original(number).reps[3].number == 4
    assert store.edits_of(number) == edits


def test_the_report_says_what_was_set_by_hand(store: Store, review: Review, recordings: Path) -> None:
    number = store.save_review(review, created_at=NOON)
    edits = move_rep(delete_rep(Edits(), review.reps, 1), review.reps, 2, end_s=review.reps[1].end_s - 0.2)
    page = render_report(analyse_corrected(store, number, edits, recordings.parent), RAISE)
    assert "Corrected by hand" in page
    assert "has its times set by hand" in page
    assert page.count('<span class="partial">by hand</span>') >= 1
    assert "set by hand" not in render_report(analyse_corrected(store, number, Edits(), recordings.parent), RAISE)


def test_no_corrections_give_the_machine_s_own_review_again(store: Store, review: Review, recordings: Path) -> None:
    number = store.save_review(review, created_at=NOON)
    again = analyse_corrected(store, number, Edits(), recordings.parent).review
    store.save_review(again, created_at=NOON)
    assert store.load_review(number + 1) == store.load_review(number)


def test_a_correction_on_a_correction(store: Store, review: Review, recordings: Path) -> None:
    number = store.save_review(review, created_at=NOON)
    first = correct(store, number, delete_rep(Edits(), review.reps, 1), recordings.parent, created_at=NOON)
    assert [rep.start_s for rep in first.review.reps] == pytest.approx(
        [rep.start_s for rep in review.reps[1:]], abs=1e-3
    )
    shown = store.load_review(number)
    rep = shown.reps[0]
    edits = move_rep(store.edits_of(number), shown.reps, 1, end_s=rep.end_s - 0.2)
    second = correct(store, number, edits, recordings.parent, created_at=NOON)
    assert second.review.reps[0].end_s == pytest.approx(rep.end_s - 0.2)
    assert len(second.review.reps) == 3
    store.undo_revision(number, undone_at=NOON)
    assert store.load_review(number) == shown


def test_another_exercise_is_stored_as_such(store: Store, review: Review, recordings: Path) -> None:
    number = store.save_review(review, created_at=NOON)
    correct(store, number, set_exercise(Edits(), "overhead-lateral-raise"), recordings.parent, created_at=NOON)
    assert store.list_reviews(exercise_id="overhead-lateral-raise")[0].id == number
    with pytest.raises(UsageError, match="no exercise"):
        correct(store, number, set_exercise(Edits(), "no-such-lift"), recordings.parent, created_at=NOON)


def test_without_landmarks_the_clip_has_to_be_reviewed_again(store: Store, review: Review, tmp_path: Path) -> None:
    number = store.save_review(review, created_at=NOON)
    with pytest.raises(RecordingError, match="review the clip again"):
        load_stored_recording(store, number, tmp_path / "nowhere")
    folder = tmp_path / "damaged" / "recordings"
    folder.mkdir(parents=True)
    (folder / f"{'ab' * 16}-{'0' * 16}-1.npz").write_bytes(b"PK nothing")
    with pytest.raises(RecordingError, match="damaged"):
        load_stored_recording(store, number, folder.parent)


def test_only_the_clip_s_own_recordings_are_named(recordings: Path, film: LandmarkRecording) -> None:
    (recordings / "letter.txt").touch()
    other = dataclasses.replace(film, clip=dataclasses.replace(film.clip, sha256="cd" * 32))
    kept_as(other, recordings)
    assert [path.name[:4] for path in recording_files("ab" * 32, recordings)] == ["abab"]
    assert recording_files("*", recordings) == []
    assert recording_files("ef" * 32, recordings) == []


# ---------------------------------------------------------------- own limits


def test_an_own_limit_replaces_the_shipped_one_and_names_the_coach() -> None:
    changed = apply_limits(RAISE, read_limits({"height": {"limit": 70.0, "tolerance": 5.0, "cue": "A little higher."}}))
    (height,) = [check for check in changed.checks if check.id == "height"]
    assert (height.limit, height.tolerance, height.cue) == (70.0, 5.0, "A little higher.")
    assert height.at_most is None
    assert "coach" in load_references()[height.source].text
    assert [check for check in changed.checks if check.id != "height"] == [
        check for check in RAISE.checks if check.id != "height"
    ]


def test_a_changed_cue_alone_leaves_the_source() -> None:
    changed = apply_limits(RAISE, {"height": LimitChange(cue="Up.")}, {"height": LimitChange(tolerance=0.0)})
    assert changed.checks[0].source == RAISE.checks[0].source
    assert changed.checks[0].cue == "Up."
    assert apply_limits(RAISE) == RAISE


def test_later_limits_lie_over_earlier_ones() -> None:
    changed = apply_limits(
        RAISE, read_limits({"height": {"limit": 80.0, "cue": "Up."}}), {"height": LimitChange(limit=75.0)}
    )
    assert (changed.checks[0].limit, changed.checks[0].cue) == (75.0, "Up.")
    assert dump_limits({"height": LimitChange(), "lowering": LimitChange(limit=2.0)}) == {"lowering": {"limit": 2.0}}


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        ({"hight": {"limit": 80.0}}, "has no check 'hight'; it has height"),
        ({"height": {"limit": 3000.0}}, "at most 360 degrees"),
        ({"lowering": {"limit": 5000.0}}, "at most 600 s"),
        ({"height": {"limit": "80"}}, "height.limit"),
        ({"height": {"limit": float("nan")}}, "height.limit"),
        ({"height": {"tolerance": -1.0}}, "height.tolerance"),
        ({"height": {"cue": ""}}, "height.cue"),
        ({"height": {"colour": "red"}}, "height.colour"),
        ({"height": 80}, "height"),
    ],
)
def test_limits_that_do_not_fit_are_one_sentence(raw: dict[str, object], says: str) -> None:
    with pytest.raises(UsageError) as caught:
        apply_limits(RAISE, read_limits(raw))
    assert says in str(caught.value)
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("yaw", [0.0, 90.0])
@pytest.mark.parametrize("exercise_id", list(shelf.POSES))
def test_a_stored_review_judged_again_says_the_same(exercise_id: str, yaw: float) -> None:
    """The findings follow from the numbers alone: same limits, same findings; their words follow from their codes."""
    review = shelf.review(exercise_id, yaw=yaw, peaks=(1.0, 0.7, 1.0))
    assert review.reps
    again = judge_again(review, get_exercise(exercise_id))
    assert [dataclasses.replace(item, at_s=None, text="") for item in again.findings] == [
        dataclasses.replace(item, at_s=None, text="") for item in review.findings
    ]
    assert again.points == review.points
    assert find_grade_changes(review, get_exercise(exercise_id)) == ()


def test_other_limits_change_the_findings_they_should(review: Review) -> None:
    """The fourth rep is raised to 68 degrees only: by a limit of 60 it is probably high enough, nothing else moves."""
    lower = apply_limits(RAISE, {"height": LimitChange(limit=60.0)})
    changes = find_grade_changes(review, lower)
    assert {item.check for item in changes} == {"height"}
    assert [(item.reps, item.before, item.after) for item in changes if 4 in item.reps] == [
        ((4,), "not_met", "probably_met")
    ]
    assert {item.verdict for item in judge_again(review, lower).findings if item.check == "height"} == {"met"}


@pytest.mark.parametrize(("limit", "grade"), [(67.0, "probably_not_met"), (63.0, "close"), (55.0, "met")])
def test_the_effect_of_a_limit_is_told_in_grades(review: Review, limit: float, grade: str) -> None:
    """A rep that is short of the exercise's limit, beside limits that lie lower and lower."""
    exercise = apply_limits(RAISE, {"height": LimitChange(limit=limit)})
    assert [item.after for item in find_grade_changes(review, exercise) if 4 in item.reps] == [grade]


def test_past_reviews_that_would_change_are_named_before_anything_is_kept(store: Store, review: Review) -> None:
    for name in ("Ada", "Bea"):
        store.save_review(review, created_at=NOON, client=name)
    lower = read_limits({"height": {"limit": 55.0}})
    title = RAISE.checks[0].title
    wanted = (GradeChange("height", title, (4,), "not_met", "met"),)
    assert [(item.row.client, item.changes) for item in find_limit_effects(store, "lateral-raise", lower)] == [
        ("Bea", wanted),
        ("Ada", wanted),
    ]
    assert [item.row.client for item in find_limit_effects(store, "lateral-raise", lower, client="ada")] == ["Ada"]
    assert [item.row.client for item in find_limit_effects(store, "lateral-raise", lower, newest=1)] == ["Bea"]
    assert find_limit_effects(store, "lateral-raise", {}) == []
    assert store.limits_history("lateral-raise") == []
    # A client's own limits stay on top of new ones for everybody.
    own = read_limits({"height": {"limit": RAISE.checks[0].limit}})
    store.set_limits("lateral-raise", own, created_at=NOON, client="Ada")
    assert [item.row.client for item in find_limit_effects(store, "lateral-raise", lower)] == ["Bea"]
    with pytest.raises(UsageError, match="no check"):
        find_limit_effects(store, "lateral-raise", read_limits({"depth": {"limit": 60.0}}))


def test_the_exercise_of_a_client_carries_both_own_limits(store: Store) -> None:
    store.add_client("Ada", created_at=NOON)
    store.set_limits("lateral-raise", read_limits({"height": {"limit": 80.0}}), created_at=NOON)
    store.set_limits("lateral-raise", read_limits({"lowering": {"limit": 2.0}}), created_at=NOON, client="Ada")
    found = {check.id: check.limit for check in exercise_for(store, "lateral-raise", "Ada").checks}
    assert (found["height"], found["lowering"]) == (80.0, 2.0)
    assert {check.id: check.limit for check in exercise_for(store, "lateral-raise").checks}["lowering"] == 0.8


def test_corrections_are_judged_by_the_client_s_limits(store: Store, review: Review, recordings: Path) -> None:
    number = store.save_review(review, created_at=NOON, client="Ada")
    store.set_limits("lateral-raise", read_limits({"height": {"limit": 60.0}}), created_at=NOON, client="Ada")
    made = correct(store, number, delete_rep(Edits(), review.reps, 1), recordings.parent, created_at=NOON).review
    assert {item.verdict for item in made.findings if item.check == "height"} == {"met"}


def test_the_report_tells_the_course_of_a_set() -> None:
    """Range is lost from the sixth rep on, as the figure was told; a set of three reps has no course."""
    plan = lifter.Set((90.0, 91.0, 90.0, 91.0, 90.0, 80.0, 76.0, 70.0, 66.0, 60.0))
    t = lifter.times(plan.length_s)
    tired = lifter.film(t, left=plan.course(t), right=plan.course(t), noise_px=1.0)
    page = render_report(analyse(tired, RAISE), RAISE)
    assert "From the first rep to the last" in page
    assert "Form broke down from rep" in page
    short = lifter.Set((90.0, 91.0, 90.0))
    t = lifter.times(short.length_s)
    few = lifter.film(t, left=short.course(t), right=short.course(t))
    assert "From the first rep to the last" not in render_report(analyse(few, RAISE), RAISE)
