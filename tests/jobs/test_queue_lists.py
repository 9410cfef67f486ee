"""Jobs as lists: what is in line comes first however long the line is, and what is long over goes."""

import os
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.jobs import worker
from formcheck.jobs.queue import (
    RETENTION_S,
    JobRequest,
    JobStatus,
    clear_old_jobs,
    find_job,
    jobs_in_line,
    newest_jobs,
    next_in_line,
    open_jobs,
    start_job,
)
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.web.review import start, work_list
from formcheck.web.review.chosen_clips import list_ready_clips
from formcheck.web.review.work_list import list_reviews_at_work
from tests.facts import says
from tests.jobs.rows import add_job, set_status, status_of
from tests.web.test_pages import read_page

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto")
NOW = 1_800_000_000.0


def named(name: str, request: JobRequest = REQUEST) -> JobRequest:
    return replace(request, clip_name=name)


def test_of_forty_sets_the_one_worked_on_is_shown_first(launched: list[str]) -> None:
    asked = [start_job(named(f"{number}.mp4")) for number in range(40)]
    assert [job.name for job in jobs_in_line()] == asked
    shown = [job.name for job in list_reviews_at_work(NOW)]
    assert shown == asked[: len(shown)]
    assert len(shown) == work_list._SHOWN
    set_status(launched[0], JobStatus("done"))
    next_in_line()
    first = list_reviews_at_work(NOW)[0]
    assert (first.name, first.status.state) == (asked[1], "waiting")


def test_a_failed_review_is_shown_until_it_is_put_away_and_one_done_for_a_day_and_a_half(formcheck_home: Path) -> None:
    failed = add_job(REQUEST, JobStatus("failed", problem="One sentence."), NOW - 30 * 86400)
    add_job(named("b"), JobStatus("done"), NOW - 2 * 86400)
    late = add_job(named("c"), JobStatus("done"), NOW - 86400)
    add_job(named("d"), JobStatus("failed"), NOW - 60, put_away=True)
    assert [job.name for job in list_reviews_at_work(NOW)] == [late, failed]


def test_what_failed_long_ago_is_not_called_just_reviewed(open_page: Callable[..., AppTest]) -> None:
    add_job(REQUEST, JobStatus("failed", problem="One sentence."), NOW - 900 * 86400)
    page = open_page()
    assert "Could not be reviewed" in read_page(page)
    assert says(read_page(page), "not reviewed", "One sentence")
    assert "Just reviewed" not in read_page(page)


def test_a_clip_lies_ready_however_much_was_asked_for_since(tmp_path: Path) -> None:
    clip = tmp_path / "set.mp4"
    clip.touch()
    add_job(JobRequest(str(clip), "set.mp4", "", "auto", kind="look"), JobStatus("done"), NOW - 86400)
    for number in range(60):
        add_job(named(str(number)), JobStatus("done"), NOW + number)
    assert [ready.path for ready in list_ready_clips()] == [clip]
    assert [job.request.clip_name for job in newest_jobs(limit=3)] == ["59", "58", "57"]


def test_of_more_clips_than_are_filled_in_at_a_time_the_page_says_how_many_are_to_come(
    open_page: Callable[..., AppTest], tmp_path: Path
) -> None:
    most = start._MOST_CLIPS
    for number in range(most + 2):
        clip = tmp_path / f"{number}.mp4"
        clip.touch()
        look = JobRequest(str(clip), clip.name, "", "auto", kind="look")
        add_job(look, JobStatus("done"), NOW - 900 * 86400 + number)
    page = open_page()
    shown = read_page(page)
    assert [n for n in range(most + 2) if re.search(rf"(?<!\d){n}\\?\.mp4", shown)] == list(range(2, most + 2))
    assert says(shown, "2 clips")


def test_long_over_and_asked_for_by_nothing_is_taken_away(
    formcheck_home: Path, store_review: Callable[..., int], tmp_path: Path
) -> None:
    number = store_review()
    clip = tmp_path / "set.mp4"
    clip.touch()
    look = JobRequest(str(clip), "set.mp4", "", "auto", kind="look")
    done, failed = JobStatus("done", review_id=number), JobStatus("failed", problem="One sentence.")
    old, young = NOW - RETENTION_S - 1, NOW - RETENTION_S + 60
    going = [
        add_job(named("done"), done, old),
        add_job(named("failed, put away"), failed, old, put_away=True),
        add_job(named("film", replace(REQUEST, kind="film", review_id=number)), failed, old),
        add_job(named("test clip", replace(REQUEST, kind="placement")), JobStatus("done"), old),
        add_job(named("put away", look), JobStatus("done"), old, put_away=True),
        add_job(named("gone", replace(look, clip_path="gone")), JobStatus("done"), old),
    ]
    staying = [
        add_job(named("young"), done, young),
        add_job(named("failed"), failed, old),
        add_job(named("lies ready", look), JobStatus("done"), old),
        add_job(named("under way"), JobStatus("working"), old),
    ]
    for name in (*going, *staying, "cut off from its row", "of a job in another store"):
        DataFolder(formcheck_home).job(name).mkdir(parents=True)
        (DataFolder(formcheck_home).job(name) / "worker.log").touch()
    os.utime(DataFolder(formcheck_home).job("cut off from its row"), (old, old))
    os.utime(DataFolder(formcheck_home).job("of a job in another store"), (young, young))
    with open_jobs() as (store, home):
        assert clear_old_jobs(store, home, formcheck_home, NOW) == len(going)
        assert clear_old_jobs(store, home, formcheck_home, NOW) == 0
    assert [job.name for job in newest_jobs()] == staying[::-1]
    left = {path.name for path in (formcheck_home / "jobs").iterdir()}
    assert left == {*staying, "of a job in another store"}


def test_a_number_is_not_given_out_twice_after_earlier_ones_went(launched: list[str]) -> None:
    names = []
    for _ in range(3):
        names.append(start_job(REQUEST))
        set_status(names[-1], JobStatus("done"))
    first = find_job(names[0])
    assert first is not None
    with Store.open(default_store()) as store:
        store.delete_jobs([first.id])
    job = start_job(REQUEST)
    assert job == f"{REQUEST.key()}-4"
    assert status_of(job).state != "done"


def test_a_worker_that_ends_takes_the_old_ones_away(formcheck_home: Path, launched: list[str]) -> None:
    bad = formcheck_home / "0a1b"
    bad.write_text("not a clip")
    add_job(named("old"), JobStatus("failed"), 1.0, put_away=True)
    start_job(JobRequest(str(bad), "one.mov", "lateral-raise", "auto"))
    assert worker.main([launched[0]]) == 1
    assert [job.name for job in newest_jobs()] == launched


@pytest.mark.parametrize("page", ["reviewed_sets", "clients", "compare", "cautions", "how_to_film", "export_or_delete"])
def test_every_other_page_says_in_one_line_that_work_is_under_way(
    open_page: Callable[..., AppTest], launched: list[str], page: str
) -> None:
    start_job(REQUEST)
    other = open_page().switch_page(f"formcheck/web/pages/{page}.py").run()
    assert not other.exception
    assert [link.label for link in links(other)] == ["1 clip at work"]
    set_status(launched[0], JobStatus("done"))
    assert links(other.run()) == []


def links(page: AppTest) -> list[object]:
    return [item.proto for item in page.get("page_link") if "at work" in item.proto.label]
