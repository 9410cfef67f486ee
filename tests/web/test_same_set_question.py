"""The page's question whether two clips show the same set, and what each answer starts."""

from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.core.errors import UnclearPairError
from formcheck.jobs import queue, worker
from formcheck.jobs.queue import JobRequest, find_job, start_job
from tests.web.test_pages import read_page

DOUBT = "It is not clear whether the two clips show the same set: the movement runs alike in both, but so it is."
KEY = "45e3b615d9e93979d5dc"


@pytest.fixture
def asked(launched: list[str], formcheck_home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A job whose worker found two clips that may or may not show one set."""

    def doubt(*_args: object, **_options: object) -> None:
        raise UnclearPairError(DOUBT)

    monkeypatch.setattr("formcheck.services.pipeline.review_clip", doubt)
    clips = [formcheck_home / "clips" / (sign * 64) for sign in "ab"]
    clips[0].parent.mkdir(exist_ok=True)
    for clip in clips:
        clip.write_bytes(b"an invented clip")
    job = start_job(
        JobRequest(
            str(clips[0]), "front.mp4", "lateral-raise", "auto", second_path=str(clips[1]), second_name="<s>.mp4"
        )
    )
    assert worker.main([job]) == 1
    return job


def test_an_unclear_pair_is_asked_about_and_its_clips_stay(asked: str) -> None:
    job = find_job(asked)
    assert job is not None
    assert job.asks_same_set
    assert job.needs_clip
    assert job.status.problem == DOUBT
    queue.put_away([asked])
    later = find_job(asked)
    assert later is not None
    assert not later.needs_clip


@pytest.mark.parametrize("where", ["job", "list"])
def test_yes_starts_the_review_of_both(asked: str, where: str, open_page: Callable[..., AppTest]) -> None:
    page = open_page(job=asked) if where == "job" else open_page()
    assert not page.exception
    text = read_page(page)
    assert "Are these two clips of the same set?" in text
    assert "but so it is" in text
    page.button(key=f"same_set_{asked}").click().run()
    assert not page.exception
    old, new = find_job(asked), queue.jobs_in_line()[-1]
    assert old is not None
    assert old.put_away
    assert new.request.same_set
    assert new.request.second_path == old.request.second_path
    assert "Are these two clips" not in read_page(page)


def test_no_starts_the_review_of_the_first_alone(asked: str, open_page: Callable[..., AppTest]) -> None:
    page = open_page(job=asked)
    page.button(key=f"not_same_set_{asked}").click().run()
    assert not page.exception
    new = queue.jobs_in_line()[-1].request
    assert (new.second_path, new.second_name, new.same_set) == (None, None, False)
    assert new.clip_name == "front.mp4"


def test_the_answer_reaches_the_review(
    asked: str, launched: list[str], open_page: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[object] = []

    def take(*_args: object, **options: object) -> None:
        given.append(options["same_set"])
        raise UnclearPairError(DOUBT)

    monkeypatch.setattr("formcheck.services.pipeline.review_clip", take)
    open_page(job=asked).button(key=f"same_set_{asked}").click().run()
    assert worker.main([queue.jobs_in_line()[-1].name]) == 1
    assert given == [True]


def test_work_without_the_question_keeps_its_key() -> None:
    """A job that waits from before there was the question is joined, not doubled: its key, taken from that program."""
    assert JobRequest("a", "a.mp4", "squat", "auto").key() == KEY
    assert JobRequest("a", "a.mp4", "squat", "auto", same_set=True).key() != KEY
