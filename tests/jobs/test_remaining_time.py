"""The time for everything in line: the sum of what each piece takes at the pace of the pieces before it."""

import pytest

from formcheck.jobs import queue, remaining_time
from formcheck.jobs.queue import TRACKING_SHARE, JobRequest, JobStatus, start_job
from formcheck.jobs.remaining_time import line_seconds
from formcheck.web.review.work_list import describe_line, describe_pace
from tests.facts import says
from tests.jobs.rows import add_job, line, set_status

FILM_S = {"a": 20.0, "b": 30.0, "c": 10.0, "d": 40.0, "e": 60.0}
NEW = ("lateral-raise", "auto")


@pytest.fixture(autouse=True)
def lengths(monkeypatch: pytest.MonkeyPatch, launched: list[str]) -> None:
    """Clips known by one letter, of known lengths."""
    monkeypatch.setattr(remaining_time, "clip_seconds", FILM_S.get)


def look(clip: str) -> JobRequest:
    return JobRequest(clip, f"{clip}.mp4", "", "auto", kind="look")


def review(clip: str, second: str | None = None) -> JobRequest:
    return JobRequest(clip, f"{clip}.mp4", *NEW, second_path=second)


def done(request: JobRequest, spent_s: float) -> str:
    """A piece of work as its worker leaves it."""
    return add_job(request, JobStatus("done", spent_s=spent_s), 1.0)


def test_nothing_is_said_before_anything_was_measured() -> None:
    assert line_seconds() == 0.0
    start_job(review("a"))
    assert line_seconds() is None
    assert "left" not in describe_pace()


def test_the_pace_of_what_was_done_gives_the_time_of_what_is_to_come() -> None:
    done(look("a"), 30.0)  # 1.5 s for a second of film
    done(review("a"), 10.0)  # and 0.5 s for the rest, after its look
    for request in (look("b"), review("b"), review("c")):
        start_job(request)
    # b: 30 s of film, 45 s of looking and 15 s for the rest; c was never looked at: 10 s of film, 15 s and 5 s.
    assert line_seconds() == pytest.approx(45 + 15 + 20)
    assert line_seconds(until=line()[1]) == pytest.approx(60)
    assert says(describe_pace(), "80 seconds", "everything in line")


def test_the_one_under_way_counts_with_what_is_left_of_it_and_tells_the_pace() -> None:
    first, second = (start_job(look(clip)) for clip in "ab")
    set_status(first, JobStatus("working", queue.TRACK, 0.4, 24.0, 16.0))
    # 40 s of work for 20 s of film: 2 s a second, so 60 s for b.
    assert line_seconds() == pytest.approx(24 + 60)
    assert says(describe_line(), "2 clips", "25 seconds", "first", "85 seconds", "all")
    assert line() == [first, second]


def test_one_pace_gives_the_other_by_the_share_of_looking() -> None:
    done(look("a"), TRACKING_SHARE * 100)
    start_job(review("a"))
    assert line_seconds() == pytest.approx((1 - TRACKING_SHARE) * 100)


def test_a_fresh_review_tells_both_paces_and_two_cameras_are_two_films() -> None:
    done(review("c"), 30.0)
    start_job(review("a", second="d"))
    assert line_seconds() == pytest.approx(3.0 * (20 + 40))


def test_what_failed_tells_no_pace_and_an_unreadable_clip_no_time() -> None:
    set_status(done(review("e"), 1.0), JobStatus("failed", spent_s=1.0))
    start_job(review("a"))
    assert line_seconds() is None
    done(review("c"), 30.0)
    start_job(review("no clip"))
    assert line_seconds() is None


def test_the_middle_of_the_last_ones_counts() -> None:
    for clip, spent in (("a", 20.0), ("b", 30.0), ("c", 500.0)):  # the last one was on a busy machine
        done(review(clip), spent)
    start_job(review("d"))
    assert line_seconds() == pytest.approx(40.0)
