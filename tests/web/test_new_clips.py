"""New clips: several at once, a first look at each, the plan filled in, worked on in line, shown on every visit."""

import hashlib
import io
import json
import os
import re
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
from streamlit.testing.v1 import AppTest

from formcheck.coaching.plan import MOST_KG, MOST_REPS, parse_plan
from formcheck.jobs import background_tasks, queue, worker
from formcheck.jobs.background_tasks import ClipSuggestion
from formcheck.jobs.queue import JobRequest, JobStatus, jobs_in_line, newest_jobs
from formcheck.storage import Store, media_files
from formcheck.storage.data_folder import default_store
from formcheck.web.review import set_form
from formcheck.web.review.set_form import describe_plan, describe_suggestion
from tests.excerpt import excerpt, smaller
from tests.facts import says
from tests.jobs.rows import job_of, set_status, status_of
from tests.web.browser_kit import (
    CLIPS,
    NARROW,
    assert_accessible,
    assert_no_sideways_scrolling,
    save_screen,
    served,
    settled,
)
from tests.web.test_pages import read_page

EXERCISE = "lateral-raise"
WORK_MS = 400_000
LOAD_MS = 120_000
"""The first page of a server that has just started, on a machine with other work."""


def moving_picture(path: Path, shade: int) -> bytes:
    """Half a second of film, another one for each shade."""
    import av
    import numpy as np

    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 96, "yuv420p"
        for index in range(12):
            picture = np.full((96, 64, 3), shade + index, dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
    return path.read_bytes()


@pytest.fixture
def form(formcheck_home: Path, open_page: Callable[..., AppTest], launched: list[str], tmp_path: Path) -> AppTest:
    """The page with three clips given to it at once."""
    (formcheck_home / "cautions-read").touch()
    clips = [(f"set {n}.mp4", moving_picture(tmp_path / f"{n}.mp4", 40 * n), "video/mp4") for n in (1, 2, 3)]
    page = open_page()
    page.file_uploader(key="upload").set_value(clips)
    return page.run()


def end_suggestion(name: str, suggestion: ClipSuggestion) -> None:
    """A first look as the worker leaves it."""
    set_status(name, JobStatus("done"), result=json.dumps(asdict(suggestion)))


def clips_in(page: AppTest) -> list[str]:
    """The names of the clips on the sheet."""
    return [re.sub("<[^>]*>", "", item.body).strip() for item in page.html if 'class="fc-clip"' in item.body]


def the_three(page: AppTest, kind: str) -> list[Any]:
    return [item for item in getattr(page, kind[: kind.index(":")]) if item.key.startswith(f"{kind.split(':')[1]}_")]


def test_each_clip_gets_its_own_lines_and_a_first_look(form: AppTest, launched: list[str]) -> None:
    assert not form.exception
    assert clips_in(form) == [f"set {n}.mp4" for n in (1, 2, 3)]
    assert len(the_three(form, "selectbox:exercise")) == 3
    assert form.button(key="start").label == "Review 3 sets"
    assert form.button(key="start").disabled
    assert [job_of(name).request.kind for name in launched] == ["look"]  # the others stand in line


def test_an_upload_is_not_held_in_memory_once_it_is_on_disk(
    formcheck_home: Path, open_page: Callable[..., AppTest], launched: list[str], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    held: set[str] = set()
    add, remove = MemoryUploadedFileManager.add_file, MemoryUploadedFileManager.remove_file
    monkeypatch.setattr(
        MemoryUploadedFileManager,
        "add_file",
        lambda self, session, file: held.add(file.name) or add(self, session, file),
    )

    def removed(self: MemoryUploadedFileManager, session: str, number: str) -> None:
        held.difference_update(file.name for file in self.get_files(session, [number]))
        remove(self, session, number)

    monkeypatch.setattr(MemoryUploadedFileManager, "remove_file", removed)
    clips = [("a.mp4", moving_picture(tmp_path / "a.mp4", 40), "video/mp4"), ("b.mp4", b"no clip", "video/mp4")]
    page = open_page()
    page.file_uploader(key="upload").set_value(clips).run()
    assert held == set()
    assert [path.name for path in (formcheck_home / "clips").iterdir()] == [hashlib.sha256(clips[0][1]).hexdigest()]
    assert "is not a video" in page.error[0].value
    page.run()
    assert not page.exception
    assert "is not a video" in page.error[0].value  # said until other clips are chosen


def test_a_clear_suggestion_is_filled_in_an_unclear_one_only_shown(
    form: AppTest, launched: list[str], formcheck_home: Path
) -> None:
    sure = ClipSuggestion(((EXERCISE, 0.94), ("front-raise", 0.03)), True, "front", ("arms going up to the sides",))
    unsure = ClipSuggestion(((EXERCISE, 0.5), ("front-raise", 0.4)), False, None, ())
    end_suggestion(launched[0], sure)
    queue.next_in_line()
    end_suggestion(launched[1], unsure)
    form.run()
    first, second, third = the_three(form, "selectbox:exercise")
    assert first.value == EXERCISE
    assert second.value is None
    assert third.value is None
    text = read_page(form)
    assert says(text, "Lateral raise to shoulder height", "94%", "arms going up to the sides")
    assert says(text, "Lateral raise to shoulder height", "50%", "Front raise")
    # What a person chose is never overwritten.
    third.set_value("squat").run()
    queue.next_in_line()
    end_suggestion(launched[2], sure)
    form.run()
    assert the_three(form, "selectbox:exercise")[2].value == "squat"


def test_an_unclear_row_holds_no_other_up(form: AppTest, launched: list[str]) -> None:
    for place in (0, 2):
        the_three(form, "selectbox:exercise")[place].set_value(EXERCISE).run()
    start = form.button(key="start")
    assert (start.label, start.disabled) == ("Review 2 sets", False)
    start.click().run()
    assert not form.exception
    asked = [job.request.clip_name for job in newest_jobs() if job.request.kind == "review"]
    assert sorted(asked) == ["set 1.mp4", "set 3.mp4"]
    assert clips_in(form) == ["set 2.mp4"]
    assert "Your reviews at work" in read_page(form)


def test_the_two_likeliest_exercises_are_chosen_by_a_button(form: AppTest, launched: list[str]) -> None:
    ranked = (("front-raise", 0.5), (EXERCISE, 0.3), ("squat", 0.2))
    end_suggestion(launched[0], ClipSuggestion(ranked, False, None, ()))
    form.run()
    chips = [item for item in form.button if str(item.key).startswith("likely_")]
    assert [item.key.rpartition("_")[2] for item in chips] == ["front-raise", EXERCISE]
    chips[1].click().run()
    assert the_three(form, "selectbox:exercise")[0].value == EXERCISE


def test_a_load_is_taken_over_from_the_row_above_of_the_same_client_and_exercise(
    form: AppTest, formcheck_home: Path
) -> None:
    for place, exercise in enumerate((EXERCISE, "squat", EXERCISE)):
        the_three(form, "selectbox:exercise")[place].set_value(exercise).run()
    the_three(form, "number_input:load")[0].set_value(7.0).run()
    assert [item.placeholder for item in the_three(form, "number_input:load")] == ["kg", "kg", "7"]
    form.button(key="start").click().run()
    asked = {job.request.clip_name: job.request.load_kg for job in newest_jobs() if job.request.kind == "review"}
    assert asked == {"set 1.mp4": 7.0, "set 2.mp4": None, "set 3.mp4": 7.0}


def test_the_list_of_exercises_is_not_shuffled_under_the_hand(
    form: AppTest, launched: list[str], open_page: Callable[..., AppTest]
) -> None:
    before = the_three(form, "selectbox:exercise")[0].options
    end_suggestion(launched[0], ClipSuggestion((("squat", 0.5), ("hip-hinge", 0.4)), False, None, ()))
    form.run()
    assert the_three(form, "selectbox:exercise")[0].options == before
    again = the_three(open_page(), "selectbox:exercise")[0].options  # the next visit lists the likeliest first
    assert again != before
    assert sorted(again) == sorted(before)


def test_load_and_reps_come_from_the_clients_plan_set_by_set(form: AppTest, formcheck_home: Path) -> None:
    with Store.open(default_store()) as store:
        store.add_client("Ada <b>", created_at=datetime.now(UTC))
        plan = parse_plan("7/9 @ 6/7.5 kg tempo 2-0-1-0")
        store.set_plan("Ada <b>", EXERCISE, plan, created_at=datetime.now(UTC), since=date(2020, 1, 1))
    form.run()
    the_three(form, "selectbox:whose")[0].set_value("Ada <b>").run()
    for place in range(3):
        the_three(form, "selectbox:exercise")[place].set_value(EXERCISE).run()
    assert not form.exception
    assert [item.value for item in the_three(form, "number_input:load")] == [6.0, 7.5, None]
    assert [item.value for item in the_three(form, "number_input:target")] == [7, 9, None]
    assert says(read_page(form), "Set 2", "9", "7.5 kg", "2-0-1-0")
    assert says(read_page(form), "Set 3", "2")


def test_each_clip_may_be_somebody_elses(form: AppTest, formcheck_home: Path) -> None:
    with Store.open(default_store()) as store:
        for name, plan in (("Ada", "11 @ 6 kg"), ("Ben", "9/7 @ 10/12 kg")):
            store.add_client(name, created_at=datetime.now(UTC))
            store.set_plan(name, EXERCISE, parse_plan(plan), created_at=datetime.now(UTC), since=date(2020, 1, 1))
    form.run()
    the_three(form, "selectbox:whose")[0].set_value("Ada").run()
    for place in range(3):
        the_three(form, "selectbox:exercise")[place].set_value(EXERCISE).run()
    whose = the_three(form, "selectbox:whose")
    assert [(item.value, item.placeholder) for item in whose] == [("Ada", set_form.NOBODY), *[(None, "Ada")] * 2]
    whose[1].set_value("Ben").run()
    assert the_three(form, "selectbox:whose")[2].placeholder == "Ben"  # as in the row above
    # Ada's one set, and Ben's first and second.
    assert [item.value for item in the_three(form, "number_input:load")] == [6.0, 10.0, 12.0]
    the_three(form, "selectbox:whose")[0].set_value(set_form.NOBODY).run()
    assert [item.value for item in the_three(form, "number_input:load")] == [None, 10.0, 12.0]
    form.button(key="start").click().run()
    assert not form.exception
    asked = {job.request.clip_name: job.request for job in newest_jobs() if job.request.kind == "review"}
    assert [asked[f"set {n}.mp4"].client for n in (1, 2, 3)] == [None, "Ben", "Ben"]
    assert [asked[f"set {n}.mp4"].load_kg for n in (1, 2, 3)] == [None, 10.0, 12.0]


def test_sets_in_line_count_before_those_that_are_filled_in(
    form: AppTest, formcheck_home: Path, launched: list[str]
) -> None:
    with Store.open(default_store()) as store:
        store.add_client("Ada", created_at=datetime.now(UTC))
        plan = parse_plan("11/9/7 @ 6/7/8 kg")
        store.set_plan("Ada", EXERCISE, plan, created_at=datetime.now(UTC), since=date(2020, 1, 1))
    today = date.today().isoformat()
    for name, day in (("Ada", today), ("Ada", "2026-01-01"), ("Ben", today)):
        queue.start_job(JobRequest(f"{name} {day}", "", EXERCISE, "auto", client=name, session_on=day))
    for number in range(40):  # many others stand behind it
        queue.start_job(JobRequest(str(number), "", EXERCISE, "auto"))
    form.run()
    the_three(form, "selectbox:whose")[0].set_value("Ada").run()
    the_three(form, "selectbox:exercise")[0].set_value(EXERCISE).run()
    assert "Set 2 of the plan: 9 reps, 7 kg." in read_page(form)


def test_the_largest_plan_can_be_filled_in(form: AppTest, formcheck_home: Path) -> None:
    with Store.open(default_store()) as store:
        store.add_client("Ada", created_at=datetime.now(UTC))
        plan = parse_plan(f"{MOST_REPS} @ {MOST_KG:g} kg")
        store.set_plan("Ada", EXERCISE, plan, created_at=datetime.now(UTC), since=date(2020, 1, 1))
    form.run()
    the_three(form, "selectbox:whose")[0].set_value("Ada").run()
    the_three(form, "selectbox:exercise")[0].set_value(EXERCISE).run()
    assert not form.exception
    assert the_three(form, "number_input:load")[0].value == MOST_KG
    assert the_three(form, "number_input:target")[0].value == MOST_REPS


def test_all_are_started_once_and_listed_on_every_visit(
    form: AppTest, launched: list[str], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    with Store.open(default_store()) as store:
        store.add_client("New Person", created_at=datetime.now(UTC))
    form.run()
    the_three(form, "selectbox:whose")[0].set_value("New Person").run()
    for place in range(3):
        the_three(form, "selectbox:exercise")[place].set_value(EXERCISE).run()
    form.button(key="start").click().run()
    assert not form.exception
    asked = [job.request for job in newest_jobs() if job.request.kind == "review"]
    assert sorted(request.clip_name for request in asked) == ["set 1.mp4", "set 2.mp4", "set 3.mp4"]
    assert {request.client for request in asked} == {"New Person"}
    assert len(launched) == 1  # the first look at the first clip still has the machine
    for _ in range(2):  # a refresh, another tab
        again = open_page()
        assert "Your reviews at work" in read_page(again)
        assert sum("waits for its turn" in item.body for item in again.html) == 3
    assert clips_in(open_page()) == []
    assert len([job for job in newest_jobs() if job.request.kind == "review"]) == 3


def test_clips_that_are_ready_outlive_the_visit_and_can_be_put_away(
    form: AppTest, open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    again = open_page()
    assert len(clips_in(again)) == 3
    before = set((formcheck_home / "clips").iterdir())
    next(item for item in again.button if str(item.key).startswith("remove_")).click().run()
    assert len(clips_in(open_page())) == 2
    assert len(before - set((formcheck_home / "clips").iterdir())) == 1  # a recording nobody wants is not kept


def test_a_second_cameras_clip_goes_with_the_first_cameras(form: AppTest, formcheck_home: Path, tmp_path: Path) -> None:
    button = next(item for item in form.button if str(item.key).startswith("remove_"))
    second = media_files.store_upload(formcheck_home, io.BytesIO(moving_picture(tmp_path / "side.mp4", 200)))
    state = form.session_state["formcheck_state"]
    state.second_clips[str(button.key).removeprefix("remove_")] = (str(second), "side.mp4")
    button.click().run()
    assert not form.exception
    assert not second.exists()
    assert len(list((formcheck_home / "clips").iterdir())) == 2


def test_a_finished_and_a_failed_review_are_listed(
    launched: list[str], open_page: Callable[..., AppTest], store_review: Callable[..., int], formcheck_home: Path
) -> None:
    done = queue.start_job(JobRequest("a", "<i>.mp4", EXERCISE, "auto", client="Ada"))
    set_status(launched[0], JobStatus("done", review_id=store_review()))
    clip = formcheck_home / "clips" / ("b" * 64)
    clip.parent.mkdir()
    clip.write_bytes(b"no clip")
    failed = queue.start_job(JobRequest(str(clip), "b.mp4", EXERCISE, "auto"))
    set_status(launched[1], JobStatus("failed", problem='"b.mp4" is not a video.'))
    page = open_page()
    text = read_page(page)
    assert "&lt;i&gt;.mp4” ready" in text
    assert says(text, "b.mp4", "not")
    page.button(key=f"away_{failed}").click().run()
    assert "not a video" not in read_page(page)
    assert not clip.exists()
    page.button(key=f"read_{done}").click().run()
    assert "6 complete reps (target 8)" in read_page(page)


def test_another_page_has_one_line_on_what_is_at_work(
    launched: list[str], open_page: Callable[..., AppTest], formcheck_home: Path
) -> None:
    from formcheck.web.review.work_list import describe_line

    assert describe_line() == ""
    for name in ("a", "b"):
        queue.start_job(JobRequest(name, f"{name}.mp4", EXERCISE, "auto"))
    set_status(launched[0], JobStatus("working", "Reading", 0.5, 42.0))
    # how long the second takes is not known: its clip cannot be read
    assert describe_line() == "2 clips at work · about 40 seconds left for the first"
    page = open_page().switch_page("formcheck/web/pages/reviewed_sets.py").run()
    assert not page.exception


def test_the_worker_keeps_client_day_and_second_camera(launched: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    from formcheck.exercises.registry import get_exercise
    from formcheck.pairing.pair_review import review_pair
    from tests.pairing.sets import Plan, filmed, lateral

    front, side = (filmed(Plan(), lateral, yaw=yaw, begins=0.0) for yaw in (0.0, 90.0))
    merged = review_pair(front, side, get_exercise(EXERCISE))
    seen: dict[str, Any] = {}

    def review_clip(clip: Path, exercise: Any, **given: Any) -> Any:
        seen.update(given, clip=clip)
        return merged, front

    monkeypatch.setattr("formcheck.services.pipeline.review_clip", review_clip)
    monkeypatch.setattr(worker.drawing, "put_in_clip", lambda out, *rest: out.folder.mkdir(parents=True))
    monkeypatch.setattr(worker, "draw", lambda out, *rest: out.folder.mkdir(parents=True, exist_ok=True))
    request = JobRequest(
        "one", "front.mp4", EXERCISE, "front", 6.0, 12, client="Ada", session_on="2026-11-20", second_path="two",
        second_name="side.mp4",
    )  # fmt: skip
    job = queue.start_job(request)
    assert worker.main([job]) == 0, status_of(job).problem
    assert (seen["clip"], seen["second"]) == (Path("one"), Path("two"))
    assert (seen["view"], seen.get("second_view", "auto")) == ("front", "auto")
    with Store.open(default_store()) as store:
        (row,) = store.list_reviews()
        second = store.load_review(row.id).second
    assert (row.client, row.session_on, row.set_number) == ("Ada", date(2026, 11, 20), 1)
    assert (row.clip_name, second.clip.name if second else None) == ("front.mp4", "side.mp4")


def test_a_damaged_first_look_is_none() -> None:
    assert background_tasks.read_suggestion(None) is None
    for text in ("", "[]", '{"ranked": 3}', '{"ranked": [["a"]], "sure": true, "view": null, "reasons": []}'):
        assert background_tasks.read_suggestion(text) is None


def test_words_for_a_look_and_for_a_planned_set() -> None:
    assert "none of the exercises" in describe_suggestion(ClipSuggestion((), False, None, ()), {})
    damaged = ClipSuggestion(((EXERCISE, 0.94),), True, "front", (), "The clip is damaged.")
    assert describe_suggestion(damaged, {EXERCISE: "Raise"}).startswith(
        "The clip is damaged. Suggested from the movement: Raise"
    )
    unusable = replace(damaged, problem="Nobody was found.", usable=False)
    assert describe_suggestion(unusable, {EXERCISE: "Raise"}) == "Nobody was found."
    plan = parse_plan("6-9/11 tempo 20X1 range 80°")
    assert says(describe_plan(1, plan.for_set(1), plan), "Set 1", "6", "9", "2-0-X-1", "80°")


# ---------------------------------------------------------------- the whole way in a browser


@pytest.fixture
def address(formcheck_home: Path) -> Iterator[str]:
    with served(formcheck_home) as url:
        yield url


@pytest.mark.browser
@pytest.mark.pose
def test_two_clips_of_a_client_survive_a_reload_and_a_killed_worker(
    address: str, browser: Any, formcheck_home: Path, tmp_path: Path
) -> None:
    # Both show their exercise clearly; most others are told only as one of several that look alike. Three reps of each.
    ends = {"lateral_raise_front_one_side_lower.mp4": 9.7, "lateral_raise_front_clean.mp4": 13.7}
    short = [excerpt(CLIPS / name, tmp_path / f"short-{name}", until_s) for name, until_s in ends.items()]
    small = [smaller(clip, tmp_path / name, width=360, every=2) for clip, name in zip(short, ends, strict=True)]
    page = browser.new_page(viewport=NARROW)
    page.set_default_timeout(LOAD_MS)
    page.goto(address)
    page.wait_for_selector("input[type=file]", state="attached")
    page.set_input_files("input[type=file]", [str(path) for path in small])
    page.locator(".fc-clip").nth(1).wait_for(timeout=60_000)
    page.reload()  # a refresh loses nothing that was form ready
    page.locator(".fc-clip").nth(1).wait_for(timeout=60_000)
    page.locator("[class*=st-key-fc_likely_]").nth(1).get_by_role("button").first.wait_for(timeout=WORK_MS)
    page.locator(".fc-clip img").nth(1).wait_for(timeout=60_000)
    page.get_by_role("combobox", name="Client").first.fill("Nora Invented")
    page.keyboard.press("Enter")
    settled(page)
    page.get_by_text("I have read the cautions").click()
    settled(page)
    save_screen(page, "new-clips-narrow-light")
    assert_no_sideways_scrolling(page)
    assert_accessible(page)
    page.get_by_role("button", name="Review 2 sets").click()
    page.get_by_text("Your reviews at work").wait_for(timeout=60_000)
    page.wait_for_selector("[role=progressbar]", timeout=120_000)
    settled(page)
    save_screen(page, "reviews-at-work-narrow-light")
    assert_accessible(page)
    page.close()  # the tab is closed, and the worker killed
    kill_worker()
    page = browser.new_page(viewport=NARROW)
    page.set_default_timeout(LOAD_MS)
    page.goto(address)
    page.get_by_role("button", name="Open the review").nth(1).wait_for(timeout=WORK_MS)
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        rows = store.list_reviews()
    assert [row.client for row in rows] == ["Nora Invented"] * 2
    assert len({row.clip_sha256 for row in rows}) == 2
    page.get_by_role("button", name="Open the review").first.click()
    page.wait_for_selector(".fc-rep", timeout=60_000)
    page.close()


def kill_worker() -> None:
    """End the worker of this test's own job, as a crash would, once it is at work."""
    for _ in range(1200):
        for job in jobs_in_line():
            if job.status.state == "working" and job.worker_pid is not None and job.status.share > 0:
                os.kill(job.worker_pid, signal.SIGKILL)
                return
        time.sleep(0.1)
    pytest.fail("no worker was at work")
