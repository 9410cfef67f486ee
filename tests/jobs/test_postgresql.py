"""The queue on a real PostgreSQL server: there several may write at once, and a step is taken once all the same."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from formcheck.core.errors import StoreError
from formcheck.jobs import queue
from formcheck.jobs.queue import SILENCE_S, JobRequest, JobStatus, claim_job, follow_job, next_in_line, start_job
from formcheck.storage import Store
from tests.jobs.rows import claimed, job_of, line, set_status
from tests.storage.test_postgresql import server, url  # noqa: F401  # fixtures
from tests.web.synthetic import synthetic_analysis

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto", 8.0, 10)
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def test_asked_claimed_taken_up_and_saved_once(
    url: str,  # noqa: F811
    launched: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("FORMCHECK_STORE", url)
    Store.open(url).close()
    requests = [replace(REQUEST, clip_name=f"{number % 4}.mp4") for number in range(24)]
    with ThreadPoolExecutor(8) as pool:
        names = set(pool.map(start_job, requests))
        list(pool.map(lambda _: next_in_line(), range(16)))
        assert len(names) == 4
        assert launched == line()[:1]
        (head,) = launched

        def claim(_: int) -> bool:
            with Store.open(url) as store:
                return claim_job(store, job_of(head)) is not None

        assert sum(pool.map(claim, range(16))) == 1
        now = time.time()
        monkeypatch.setattr(queue, "worker_lives", lambda job: False)
        monkeypatch.setattr(queue.time, "time", lambda: now + SILENCE_S + 1)
        list(pool.map(lambda _: follow_job(head), range(16)))
        assert launched == [head, head]
        job = claimed(head)

        def save(_: int) -> int:
            with Store.open(url) as store:
                return store.save_review(synthetic_analysis().review, created_at=NOON, job=job)

        assert len(set(pool.map(save, range(8)))) == 1
    with Store.open(url) as store:
        assert len(store.list_reviews()) == 1
        assert store.write_progress(job, JobStatus("done", "Done", 1.0), now, result="{}")
        store.stop_jobs([job_of(name).id for name in line()])
        with pytest.raises(StoreError, match="deleted"):
            store.save_review(synthetic_analysis().review, created_at=NOON, job=replace(job, claim="another"))
    assert line() == []
    set_status(head, JobStatus("done", review_id=job_of(head).status.review_id))
    with Store.open(url) as store:
        store.delete_review(1)
        assert head not in {left.name for left in store.list_jobs()}
