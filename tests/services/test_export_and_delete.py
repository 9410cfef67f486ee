"""A client's data leaves whole and goes whole; nobody else's is touched."""

import csv
import dataclasses
import hashlib
import io
import json
import shutil
import zipfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pypdfium2 as pdfium
import pytest

from formcheck.analysis import analyse
from formcheck.coaching.comment import CoachComment, clean_voice
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.coaching.rating import Rating
from formcheck.core.errors import OutputError, StoreError
from formcheck.core.model import LandmarkRecording, SetInfo
from formcheck.exercises.limits import read_limits
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode
from formcheck.formats.csv_table import write_csv, write_measures_csv
from formcheck.jobs import queue, worker
from formcheck.jobs.queue import home_id
from formcheck.pose.recording import save_recording
from formcheck.reps.edits import Edits, delete_rep
from formcheck.services.delete import (
    UNDO_S,
    delete_client_data,
    delete_marked,
    delete_review_data,
    delete_upload,
    plan_deletion,
)
from formcheck.services.export import export_client, export_reviews
from formcheck.services.stored_analysis import correct
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.storage.jobs import SAME_SET_ASKED, Job, JobRequest
from tests import lifter
from tests.facts import says
from tests.statistics.sets import in_turn
from tests.storage.conftest import by_two
from tests.storage.voice import spoken

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
RAISE = get_exercise("lateral-raise")


def film(clip: Path) -> LandmarkRecording:
    from formcheck.video.clip_file import compute_clip_sha256

    plan = lifter.Set((90.0, 88.0, 91.0))
    t = lifter.times(plan.length_s)
    made = lifter.film(t, left=plan.course(t), right=plan.course(t))
    return dataclasses.replace(
        made, clip=dataclasses.replace(made.clip, name=clip.name, sha256=compute_clip_sha256(clip))
    )


def add_set(store: Store, home: Path, client: str, clip: Path, text: str = "invented pictures") -> int:
    clip.parent.mkdir(parents=True, exist_ok=True)
    clip.write_text(f"{text}: {clip.name}")
    recording = film(clip)
    sha, model = recording.clip.sha256, recording.pose_model.sha256
    save_recording(recording, home / "recordings" / f"{sha[:32]}-{model[:16]}-1.npz")
    number = store.save_review(
        analyse(recording, RAISE).review, created_at=NOON, client=client, clip_path=clip, session_on=date(2026, 3, 1)
    )
    drawn = home / "drawn" / str(number)
    drawn.mkdir(parents=True)
    (drawn / "report.html").write_text("drawn")
    ask(store, home, None, state="done", clip_path=str(clip), review_id=number)
    return number


@pytest.fixture
def ada(store: Store, formcheck_home: Path, tmp_path: Path) -> int:
    """Ada with two sets, one of them uploaded and corrected, and everything else that can be kept of her."""
    number = add_set(store, formcheck_home, "Ada =Invented", formcheck_home / "clips" / "upload")
    upload = formcheck_home / "clips" / "upload"
    from formcheck.video.clip_file import compute_clip_sha256

    kept = upload.rename(formcheck_home / "clips" / compute_clip_sha256(upload))
    assert kept.is_file()
    add_set(store, formcheck_home, "Ada =Invented", tmp_path / "own" / "ada.mp4")
    store.mark_reviews([number], seen_at=NOON)
    store.save_note(number, SetNote(pain=True, pain_where="=left shoulder", remark="+1"), written_at=NOON)
    store.add_comment(number, CoachComment("Lead with the elbows."), created_at=NOON)
    said = CoachComment("Here they drop.", 3.0, (((5.0, 6.0), (7.0, 8.0)),))
    store.add_comment(number, said, voice=spoken(), created_at=NOON)
    store.save_rating(number, Rating("height", "met", False, "one hand is lower"), created_at=NOON)
    store.set_reference_rep(number, 2.5, created_at=NOON)
    store.set_plan("Ada =Invented", "lateral-raise", parse_plan("4x9 @ 8 kg"), created_at=NOON, since=date(2026, 2, 1))
    store.set_limits("lateral-raise", read_limits({"height": {"limit": 80.0}}), created_at=NOON, client="Ada =Invented")
    reps = store.load_review(number).reps
    correct(store, number, delete_rep(Edits(), reps, 2), formcheck_home, created_at=NOON)
    return number


def test_an_export_holds_everything(store: Store, ada: int, formcheck_home: Path, tmp_path: Path) -> None:
    target = tmp_path / "out"
    done = export_client(store, "ada =invented", target, formcheck_home, exported_at=NOON)
    assert done.reviews == 2
    assert done.clips == 1  # the upload's file was renamed after its review
    first, second = sorted((target / "reviews").iterdir())
    assert {path.name for path in second.iterdir()} == {
        "review.json", "measures.csv", "landmarks.npz", "report.html", "report.pdf", "clip.mp4",
    }  # fmt: skip
    paper = pdfium.PdfDocument((first / "report.pdf").read_bytes())
    text = " ".join(" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in paper)
    assert RAISE.name in text
    assert says(text, "advisory", "never", "diagnosis")
    assert decode((first / "review.json").read_bytes()) == store.load_review(ada)
    assert decode((first / "original.json").read_bytes()) == store.load_original(ada)
    assert "Advisory only" in (first / "report.html").read_text(encoding="utf-8")
    told = json.loads((target / "client.json").read_text(encoding="utf-8"))
    assert told["client"]["name"] == "Ada =Invented"
    assert told["plans"] == [{"exercise": "lateral-raise", "since": "2026-02-01", "plan": "4x9 @ 8 kg", "remark": None}]
    # With the measure it was set for, as this check has had another one.
    assert told["own_limits"][0]["changes"] == {"height": {"limit": 80.0, "measure": "arm_line_raise_peak"}}
    assert [(item["seen_at"], item["done_at"]) for item in told["reviews"]] == [(NOON.isoformat(), None), (None, None)]
    assert told["reviews"][0]["note"]["pain_where"] == "=left shoulder"
    assert len(told["reviews"][0]["corrections"]) == 1
    (rating,) = told["reviews"][0]["ratings"]
    assert (rating["check"], rating["verdict"], rating["agrees"], rating["why"]) == (
        "height", "met", False, "one hand is lower",
    )  # fmt: skip
    assert told["reviews"][1]["ratings"] == []
    (reference,) = told["reference_reps"]
    assert (reference["review"], reference["exercise"], reference["top_s"]) == (ada, "lateral-raise", 2.5)
    one, other = told["reviews"][0]["comments"]
    assert (one["text"], one["at_s"], one["voice"]) == ("Lead with the elbows.", None, None)
    assert (other["text"], other["strokes"]) == ("Here they drop.", [[[5.0, 6.0], [7.0, 8.0]]])
    assert (first / other["voice"]).read_bytes() == clean_voice(spoken())
    assert says(text, "Your coach says", "Lead with the elbows.")
    assert f"Review {ada}, clip" in (target / "README.txt").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO((target / "sets.csv").read_text(encoding="utf-8"))))
    assert [row["set"] for row in rows] == ["1", "2"]
    assert (rows[0]["planned_low"], rows[0]["pain"], rows[0]["corrected_by_hand"]) == ("9", "yes", "yes")
    assert [row["planned_each_side"] for row in rows] == ["no", "no"]
    assert [(row["left_reps"], row["right_reps"], row["target_each_side"]) for row in rows] == [("", "", "")] * 2
    # As text, not as formulas.
    assert (rows[0]["pain_where"], rows[0]["remark"]) == ("'=left shoulder", "'+1")


def test_a_damaged_review_keeps_no_other_out_of_an_export(
    store: Store, ada: int, formcheck_home: Path, tmp_path: Path
) -> None:
    other = max(row.id for row in store.list_reviews())
    with store.engine.begin() as connection:
        for table in ("documents", "revisions"):
            connection.exec_driver_sql(f"UPDATE {table} SET body = '{{' WHERE review_id = {ada}")
    done = export_client(store, "Ada =Invented", tmp_path / "out", formcheck_home, exported_at=NOON)
    assert done.reviews == 2
    (sentence,) = [text for text in done.missing if text.startswith(f"Review {ada}, numbers")]
    assert "is damaged" in sentence
    assert sentence in (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    damaged, whole = sorted((tmp_path / "out" / "reviews").iterdir())
    assert [path.name for path in damaged.iterdir()] == ["landmarks.npz"]
    assert decode((whole / "review.json").read_bytes()) == store.load_review(other)
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out" / "sets.csv").read_text(encoding="utf-8"))))
    assert [row["review"] for row in rows] == [str(ada), str(other)]


def test_a_zip_holds_the_same(store: Store, ada: int, formcheck_home: Path, tmp_path: Path) -> None:
    export_client(store, "Ada =Invented", tmp_path / "folder", formcheck_home, exported_at=NOON)
    export_client(store, "Ada =Invented", tmp_path / "out.zip", formcheck_home, exported_at=NOON, clips=False)
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        assert archive.testzip() is None
        names = set(archive.namelist())
    inside = {
        path.relative_to(tmp_path / "folder").as_posix() for path in (tmp_path / "folder").rglob("*") if path.is_file()
    }
    assert names == {name for name in inside if not name.endswith("clip.mp4")}
    export_client(store, "Ada =Invented", tmp_path / "whole.zip", formcheck_home, exported_at=NOON)
    with zipfile.ZipFile(tmp_path / "whole.zip") as archive:
        packed = {Path(item.filename).name: item.compress_type for item in archive.infolist()}
    assert packed["clip.mp4"] == zipfile.ZIP_STORED  # a film does not get smaller
    assert packed["review.json"] == zipfile.ZIP_DEFLATED
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_an_export_never_replaces_anything(store: Store, ada: int, formcheck_home: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    for target in (tmp_path / "out", tmp_path / "no-such-folder" / "out"):
        with pytest.raises(OutputError) as caught:
            export_client(store, "Ada =Invented", target, formcheck_home, exported_at=NOON)
        assert "\n" not in str(caught.value)
    assert list((tmp_path / "out").iterdir()) == []
    with pytest.raises(StoreError, match="no client"):
        export_client(store, "Nobody", tmp_path / "other", formcheck_home, exported_at=NOON)


def test_a_deleted_client_leaves_no_file_and_no_row(
    store: Store, ada: int, formcheck_home: Path, tmp_path: Path
) -> None:
    other = add_set(store, formcheck_home, "Bea", tmp_path / "own" / "bea.mp4", "other pictures")
    asked = plan_deletion(store, "Ada =Invented", formcheck_home)
    assert (asked.client, asked.reviews) == ("Ada =Invented", 2)
    assert asked.left_alone == (tmp_path / "own" / "ada.mp4",)
    assert store.list_reviews(client="Ada =Invented")  # asking deletes nothing
    assert delete_client_data(store, "ada =invented", formcheck_home) == asked
    assert [row.id for row in store.list_reviews()] == [other]
    # Bea's landmarks, drawing and job
    assert sorted(name.partition("/")[0] for name in files_of(formcheck_home)) == ["drawn", "jobs", "recordings"]
    assert [job.status.review_id for job in store.list_jobs()] == [other]
    assert (tmp_path / "own" / "ada.mp4").is_file()
    with pytest.raises(StoreError, match="no client"):
        delete_client_data(store, "Ada =Invented", formcheck_home)


def ask(store: Store, home: Path, upload: str | None, *, state: str, put_away: bool = False, **more: object) -> Job:
    """A job of the page, with something half drawn in its folder; its upload lies in the data folder."""
    if upload is not None:
        (home / "clips").mkdir(exist_ok=True)
        (home / "clips" / upload).write_text(f"pictures {upload}")
        more["clip_path"] = str(home / "clips" / upload)
    given = {"clip_path": "", "clip_name": "set.mp4", "exercise": "lateral-raise", "view": "auto", **more}
    job, added = store.add_job(home_id(home), JobRequest(**given), 1.0)  # type: ignore[arg-type]
    assert added
    store.change_job(job.id, lambda job, before: {"state": state, "put_away": put_away})
    (DataFolder(home).job(job.name) / "drawn").mkdir(parents=True)
    (DataFolder(home).job(job.name) / "drawn" / "report.html").write_text("half drawn")
    return job


def files_of(home: Path) -> set[str]:
    """What is kept, but for the folder's own id and a store in it."""
    every = {path.relative_to(home).as_posix() for path in home.rglob("*") if path.is_file()}
    return {name for name in every if name != "queue-id" and not name.startswith("reviews.sqlite")}


def test_counts_a_side_are_part_of_an_export(store: Store, formcheck_home: Path, tmp_path: Path) -> None:
    target = SetInfo(6.0, 3, target_each_side=True)
    number = store.save_review(
        dataclasses.replace(in_turn("LRLRL"), set_info=target), created_at=NOON, client="Cy", session_on=NOON.date()
    )
    export_client(store, "Cy", tmp_path / "out", formcheck_home, exported_at=NOON)
    (row,) = csv.DictReader(io.StringIO((tmp_path / "out" / "sets.csv").read_text(encoding="utf-8")))
    told = {name: row[name] for name in ("complete_reps", "left_reps", "right_reps", "target_reps", "target_each_side")}
    assert list(told.values()) == ["5", "3", "2", "3", "yes"]
    assert (row["planned_low"], row["planned_each_side"]) == ("3", "yes")
    (folder,) = (tmp_path / "out" / "reviews").iterdir()
    assert decode((folder / "review.json").read_bytes()) == store.load_review(number)


@pytest.mark.parametrize("end", ["open", "answered", "put away"])
def test_a_question_about_two_clips_stays_out_of_an_export_and_goes_with_its_client(
    store: Store, ada: int, formcheck_home: Path, tmp_path: Path, end: str
) -> None:
    pair = {
        "client": "Ada =Invented",
        "second_path": str(formcheck_home / "clips" / ("8" * 64)),
        "second_name": "s.mp4",
    }
    put_away = end == "put away"
    job = ask(store, formcheck_home, "7" * 64, state="failed", put_away=put_away, **pair)
    asked = store.change_job(job.id, lambda job, before: {"result": SAME_SET_ASKED})
    assert asked is not None
    assert asked.asks_same_set
    if end == "answered":
        again, added = store.add_job(home_id(formcheck_home), dataclasses.replace(asked.request, same_set=True), 2.0)
        assert (added, again.request.same_set) == (True, True)
    export_client(store, "Ada =Invented", tmp_path / "out", formcheck_home, exported_at=NOON)
    told = (tmp_path / "out" / "client.json").read_text(encoding="utf-8")
    assert asked.request.clip_path not in told
    delete_client_data(store, "Ada =Invented", formcheck_home)
    assert not store.list_jobs()
    assert files_of(formcheck_home) == set()


@pytest.mark.parametrize("state", ["queued", "working", "failed"])
def test_what_stands_in_line_or_failed_goes_with_the_client(
    store: Store, ada: int, formcheck_home: Path, tmp_path: Path, state: str
) -> None:
    """Their clips were never reviewed, so only the jobs tell whose they are."""
    before = files_of(formcheck_home)
    add_set(store, formcheck_home, "Bea", tmp_path / "own" / "bea.mp4", "other pictures")
    of_bea = files_of(formcheck_home) - before
    jobs = store.list_jobs()
    ask(store, formcheck_home, "1" * 64, state=state, client="ADA =invented")
    ask(store, formcheck_home, "2" * 64, state=state, client="Ada =Invented")
    # the same clip stands in line for Bea
    bea = ask(store, formcheck_home, "2" * 64, state=state, client="Bea")
    ask(store, formcheck_home, None, state="done", review_id=ada, kind="film", clip_path="elsewhere.mp4")
    ask(store, formcheck_home, "1" * 64, state="done", kind="look")
    look = ask(store, formcheck_home, "9" * 64, state="done", kind="look")  # nobody's yet
    delete_client_data(store, "Ada =Invented", formcheck_home)
    kept = {f"jobs/{job.name}/drawn/report.html" for job in (bea, look)} | {"clips/" + "9" * 64}
    # what failed for both is needed by neither
    kept |= set() if state == "failed" else {"clips/" + "2" * 64}
    assert files_of(formcheck_home) == kept | of_bea
    of_others = {job.name for job in jobs if job.request.clips == (str(tmp_path / "own" / "bea.mp4"),)}
    assert {job.name for job in store.list_jobs()} == {bea.name, look.name} | of_others


def test_a_client_deleted_while_a_worker_is_at_their_set_stays_deleted(
    formcheck_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store.open(default_store()) as store:
        add_set(store, formcheck_home, "Ada", tmp_path / "own" / "ada.mp4")
    recording = film(tmp_path / "own" / "ada.mp4")
    request = JobRequest(str(tmp_path / "own" / "ada.mp4"), "set.mp4", "lateral-raise", "auto", client="Ada")
    monkeypatch.setattr(queue, "_launch", lambda store, job: None)
    job = queue.start_job(request)

    def deleted_meanwhile(*_: object) -> object:
        with Store.open(default_store()) as other:
            delete_client_data(other, "Ada", formcheck_home)
        return analyse(recording, RAISE), recording

    monkeypatch.setattr(worker, "_analyse_clips", deleted_meanwhile)
    assert worker.main([job]) == 1
    with Store.open(default_store()) as store:
        assert not store.list_clients()
        assert not store.list_reviews()
        assert not store.list_jobs()
    assert files_of(formcheck_home) == set()


def test_one_review_goes_with_what_only_it_needs(store: Store, formcheck_home: Path, tmp_path: Path) -> None:
    first = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "a.mp4")
    before = files_of(formcheck_home)
    second = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "b.mp4", "other pictures")
    again = store.save_review(store.load_review(first), created_at=NOON, client="Ada")
    assert delete_review_data(store, second, formcheck_home) == 3  # landmarks, drawing, job
    assert files_of(formcheck_home) == before
    delete_review_data(store, first, formcheck_home)
    assert [row.id for row in store.list_reviews()] == [again]
    assert {name.split("/")[0] for name in files_of(formcheck_home)} == {"recordings"}  # the other one needs them
    delete_review_data(store, again, formcheck_home)
    assert "recordings" not in {name.split("/")[0] for name in files_of(formcheck_home)}
    assert (tmp_path / "own" / "a.mp4").is_file()
    with pytest.raises(StoreError):
        delete_review_data(store, again, formcheck_home)


def test_reviews_asked_to_be_deleted_go_after_the_time_to_undo_it(
    store: Store, formcheck_home: Path, tmp_path: Path
) -> None:
    first, second, third = (
        add_set(store, formcheck_home, "Ada", tmp_path / "own" / f"{name}.mp4", name) for name in ("a", "b", "c")
    )
    store.mark_reviews([first, second], deletion_at=NOON)
    assert delete_marked(store, formcheck_home, now=NOON + timedelta(seconds=UNDO_S - 1)) == []
    store.mark_reviews([second], deletion_at=None)
    assert delete_marked(store, formcheck_home, now=NOON + timedelta(seconds=UNDO_S)) == [first]
    assert {row.id for row in store.list_reviews()} == {second, third}
    assert not (formcheck_home / "drawn" / str(first)).exists()
    assert (formcheck_home / "drawn" / str(second)).is_dir()


def test_chosen_reviews_leave_without_clips_and_what_was_made_goes_with_a_client_in_it(
    store: Store, ada: int, formcheck_home: Path, tmp_path: Path
) -> None:
    other = add_set(store, formcheck_home, "Bea", tmp_path / "own" / "bea.mp4", "other pictures")
    target = DataFolder(formcheck_home).chosen_export
    target.parent.mkdir()
    done = export_reviews(store, {ada, other, 999}, target, formcheck_home, exported_at=NOON)
    assert (done.reviews, done.clips) == (2, 0)
    with zipfile.ZipFile(target) as archive:
        names = archive.namelist()
        readme = archive.read("README.txt").decode()
    assert {name.split("/")[1] for name in names if name.startswith("reviews/")} == {
        f"{number:05d}-lateral-raise" for number in (ada, other)
    }
    assert "client.json" not in names
    assert not [name for name in names if "/clip" in name]
    assert "client.json" not in readme
    delete_client_data(store, "Bea", formcheck_home)
    assert not target.exists()


def test_landmarks_somebody_else_s_review_needs_stay(store: Store, formcheck_home: Path, tmp_path: Path) -> None:
    """The same clip was reviewed for two clients, by mistake or because both are in it."""
    first = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "a.mp4")
    second = store.save_review(store.load_review(first), created_at=NOON, client="Bea")
    nobody = store.save_review(store.load_review(first), created_at=NOON)
    delete_client_data(store, "Ada", formcheck_home)
    assert len(list((formcheck_home / "recordings").iterdir())) == 1
    delete_client_data(store, "Bea", formcheck_home)
    assert len(list((formcheck_home / "recordings").iterdir())) == 1
    assert [row.id for row in store.list_reviews()] == [nobody]
    assert second != nobody


def test_a_review_by_two_cameras_goes_with_both_clips(store: Store, formcheck_home: Path, tmp_path: Path) -> None:
    front = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "front.mp4")
    side = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "side.mp4", "from the side")
    pair = store.save_review(by_two(store.load_review(front), store.load_review(side)), created_at=NOON, client="Ada")
    assert delete_review_data(store, side, formcheck_home) == 2  # drawing and job: the pair needs the landmarks
    assert delete_review_data(store, front, formcheck_home) == 2
    assert delete_review_data(store, pair, formcheck_home) == 2  # the landmarks of both
    assert files_of(formcheck_home) == set()


def test_a_damaged_review_can_be_deleted_and_keeps_no_other_from_it(
    store: Store, formcheck_home: Path, tmp_path: Path
) -> None:
    first = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "a.mp4")
    second = add_set(store, formcheck_home, "Ada", tmp_path / "own" / "b.mp4", "other pictures")
    with store.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE documents SET body = '{' WHERE review_id = 1")
    assert delete_review_data(store, second, formcheck_home) == 3
    assert delete_review_data(store, first, formcheck_home) == 3
    assert files_of(formcheck_home) == set()


def test_an_upload_that_stands_in_line_outlives_a_review_of_it(store: Store, ada: int, formcheck_home: Path) -> None:
    """Somebody handed the same clip in again, for another client or exercise, and it waits."""
    upload = store.load_original(ada).clip.sha256
    content = (formcheck_home / "clips" / upload).read_bytes()
    job = ask(store, formcheck_home, None, state="queued", clip_path=str(formcheck_home / "clips" / upload))
    delete_review_data(store, ada, formcheck_home)
    assert (formcheck_home / "clips" / upload).read_bytes() == content
    assert job.name in {other.name for other in store.list_jobs()}


# ---------------------------------------------------------------- clips handed in and never reviewed


@pytest.fixture
def handed_in(store: Store, formcheck_home: Path) -> Path:
    """A clip that was handed in, its landmarks, and its first look, which is over."""
    sha = hashlib.sha256(b"pictures").hexdigest()
    ask(store, formcheck_home, sha, state="done", kind="look")
    clip = formcheck_home / "clips" / sha
    recording = film(clip)
    named = dataclasses.replace(recording, clip=dataclasses.replace(recording.clip, sha256=sha))
    save_recording(named, formcheck_home / "recordings" / f"{sha[:32]}-{named.pose_model.sha256[:16]}-1.npz")
    return clip


def take_away(store: Store, job: Job, home: Path) -> None:
    store.delete_jobs([job.id])
    shutil.rmtree(DataFolder(home).job(job.name))


def put_away_all(store: Store) -> None:
    store.set_put_away([job.id for job in store.list_jobs()], True)


def test_a_clip_that_lies_ready_or_is_at_work_stays(store: Store, formcheck_home: Path, handed_in: Path) -> None:
    before = files_of(formcheck_home)
    assert delete_upload(store, handed_in, formcheck_home) == 0  # it lies ready
    put_away_all(store)
    for state in ("queued", "working"):
        job = ask(store, formcheck_home, None, state=state, kind="review", clip_path=str(handed_in))
        assert delete_upload(store, handed_in, formcheck_home) == 0
        take_away(store, job, formcheck_home)
    job = ask(store, formcheck_home, None, state="queued", clip_path="other.mp4", second_path=str(handed_in))
    assert delete_upload(store, handed_in, formcheck_home) == 0
    take_away(store, job, formcheck_home)
    review = analyse(film(handed_in), RAISE).review
    number = store.save_review(
        dataclasses.replace(review, clip=dataclasses.replace(review.clip, sha256=handed_in.name)), created_at=NOON
    )
    assert delete_upload(store, handed_in, formcheck_home) == 0
    assert before <= files_of(formcheck_home)
    store.delete_review(number)
    assert delete_upload(store, handed_in, formcheck_home) == 3  # clip, landmarks, the first look
    assert files_of(formcheck_home) == set()


def test_a_clip_reviewed_into_another_store_stays(store: Store, formcheck_home: Path, handed_in: Path) -> None:
    put_away_all(store)
    (formcheck_home / "drawn" / "7").mkdir(parents=True)
    DataFolder(formcheck_home).artifacts(7).write_clip_names([str(handed_in)])
    assert delete_upload(store, handed_in, formcheck_home) == 0
    assert handed_in.is_file()


def test_a_failed_review_needs_its_clip_no_more(store: Store, formcheck_home: Path, handed_in: Path) -> None:
    put_away_all(store)
    job = ask(store, formcheck_home, None, state="failed", kind="review", clip_path=str(handed_in))
    assert delete_upload(store, handed_in, formcheck_home) == 3
    assert {name.split("/")[1] for name in files_of(formcheck_home)} == {job.name}
    assert [left.name for left in store.list_jobs()] == [job.name]  # which says why it failed


def test_a_clip_of_the_user_s_own_is_never_deleted(store: Store, formcheck_home: Path, tmp_path: Path) -> None:
    inside = formcheck_home / "clips" / "mine.mp4"
    for clip in (tmp_path / "mine.mp4", tmp_path / ("a" * 64), inside):
        clip.parent.mkdir(exist_ok=True)
        clip.write_text("pictures")
        assert delete_upload(store, clip, formcheck_home) == 0
        assert clip.is_file()


# ---------------------------------------------------------------- tables


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "  ="])
def test_text_cannot_act_as_a_formula(sign: str) -> None:
    """The signs OWASP's page on CSV injection names (read from memory), and their full-width forms."""
    written = write_csv(("name",), [(f"{sign}HYPERLINK(1)",), ("plain",), (-3.5,), (None,), (True,)])
    rows = [row[0] if row else "" for row in csv.reader(io.StringIO(written, newline=""))]
    assert rows[1] == f"'{sign}HYPERLINK(1)"
    assert rows[2:] == ["plain", "-3.5", "", "yes"]


def test_the_table_of_measures_holds_what_the_review_holds(store: Store, ada: int) -> None:
    review = store.load_review(ada)
    rows = list(csv.DictReader(io.StringIO(write_measures_csv(review), newline="")))
    assert len(rows) == len(review.measures)
    for row, item in zip(rows, review.measures, strict=True):
        assert row["measure"] == item.name
        assert row["side"] == (item.side or "")
        assert float(row["value"] or "nan") == pytest.approx(
            item.value if item.value is not None else float("nan"), nan_ok=True
        )
