"""Jobs: work asked for on the page, a row each; every step of a job is one transaction.

What a step is, who may take it and when a worker counts as dead is decided by `formcheck.jobs.queue`; here is that it
happens once, whoever else takes a step at the same moment.
"""

import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal, cast

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, delete, select, text, update

from formcheck.core.errors import StoreError
from formcheck.core.model import ViewHint
from formcheck.storage.database import OpenStore, insert_row, storable
from formcheck.storage.tables import jobs

JobState = Literal["queued", "waiting", "working", "done", "failed"]
"""``queued``: others come first; ``waiting``: its worker is starting."""
JobKind = Literal["review", "film", "placement", "look", "excerpt"]
"""What is to be done: review a clip or draw a review's pictures anew; draw the skeleton into the clip of a review;
judge from a short clip whether the camera stands well; say which exercise a clip probably shows; cut a part out of the
clip of a review."""
DELETED = "This review was deleted while it was made."
_OVER = ("done", "failed")
_LOCK_KEY = 4_607_182_419  # any number that no other program takes for its advisory lock
_NAME = re.compile(r"([0-9a-f]{20})-([0-9]{1,9})")


SAME_SET_ASKED = json.dumps({"asked": "same-set"})
"""Result of a review that was not made, since it is not clear whether its two clips show the same set."""


@dataclass(frozen=True, slots=True)
class JobRequest:
    """What to review and how."""

    clip_path: str
    clip_name: str
    exercise: str
    view: ViewHint
    load_kg: float | None = None
    target_reps: int | None = None
    review_id: int | None = None
    """A stored review whose pictures or film are to be drawn; None: a new review."""
    kind: JobKind = "review"
    """A test clip takes `view` for where the phone is meant to stand."""
    client: str | None = None
    """Whose set it is."""
    session_on: str | None = None
    """The day of the session, as in 2026-11-25; None: the day of the review."""
    second_path: str | None = None
    """The clip of a second camera."""
    second_name: str | None = None
    blur_faces: bool = False
    """Make the lifter's head unrecognisable in a film."""
    excerpt: str | None = None
    """What is to be cut out and how, as JSON; None but for an excerpt."""
    same_set: bool = False
    """A person said that both clips show the same set."""

    @property
    def in_line(self) -> bool:
        """Worked on after those asked for before; what a person waits for at once is not."""
        return self.kind == "look" or self.new_review

    @property
    def new_review(self) -> bool:
        """A review is to be made and saved."""
        return self.kind == "review" and self.review_id is None

    @property
    def clips(self) -> tuple[str, ...]:
        """Paths of the clips it is about."""
        return tuple(path for path in (self.clip_path, self.second_path) if path)

    def key(self) -> str:
        """The same for the same work."""
        asked = asdict(self)
        if self.excerpt is None:  # as it was before there were excerpts
            del asked["excerpt"]
        if not self.same_set:  # as before there was the question
            del asked["same_set"]
        return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:20]


@dataclass(frozen=True, slots=True)
class JobStatus:
    """How far a job is."""

    state: JobState
    stage: str = ""
    share: float = 0.0
    """0..1 of the work done."""
    seconds_left: float | None = None
    spent_s: float | None = None
    """Seconds the worker has been at it."""
    review_id: int | None = None
    """The review that was saved, or that is drawn for."""
    problem: str | None = None
    """One sentence when it failed."""
    heartbeat_at: float = 0.0
    """When the worker last wrote, seconds since the epoch."""

    @property
    def over(self) -> bool:
        """No more work will come."""
        return self.state in _OVER


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it stands."""

    id: int
    """Place in line: of two, the one asked for first has the lower."""
    key: str
    number: int
    request: JobRequest
    status: JobStatus
    claim: str | None
    """What its worker knows itself by; None while it has none."""
    worker_pid: int | None
    """The process that was started for it, or that claimed it."""
    restarts: int
    """How often a worker was started in the place of one that died."""
    put_away: bool
    """The user wants to see it no more."""
    result: str | None
    """What a look at a clip found, as JSON, or `SAME_SET_ASKED`."""

    @property
    def name(self) -> str:
        """What it is known by, in addresses and as a folder's name."""
        return f"{self.key}-{self.number}"

    @property
    def asks_same_set(self) -> bool:
        """It waits for a person to say whether its two clips show the same set."""
        return self.status.state == "failed" and self.result == SAME_SET_ASKED

    @property
    def needs_clip(self) -> bool:
        """Whether its clips must stay for it: it is not over, asks something, or its clip lies ready for review."""
        asked = self.request.kind == "look" or self.asks_same_set
        return not self.put_away if asked else not self.status.over


def name_parts(name: str) -> tuple[str, int] | None:
    """Key and number of a job's name; None for a text that is none, whatever it contains."""
    found = _NAME.fullmatch(name)
    return None if found is None else (found[1], int(found[2]))


class Jobs(OpenStore):
    """The part of the store that holds the jobs of one or several data folders.

    `home` is the id of the data folder the page works with (`formcheck.jobs.queue.home_id`).
    """

    def add_job(self, home: str, request: JobRequest, now: float) -> tuple[Job, bool]:
        """The job that does this work, and whether it was added: one that is not over is joined (StoreError)."""
        with self._writing() as connection:
            _one_at_a_time(connection)
            key = request.key()
            same = select(jobs).where(jobs.c.home == home, jobs.c.key == key)
            latest = connection.execute(same.order_by(jobs.c.number.desc()).limit(1)).mappings().first()
            if latest is not None and latest["state"] not in _OVER:
                return _job(latest), False
            number = 1 if latest is None else latest["number"] + 1
            status = JobStatus("queued" if request.in_line else "waiting", stage="Starting")
            job_id = insert_row(connection, jobs, **_row(home, key, number, request, status, now))
            return _job(connection.execute(select(jobs).where(jobs.c.id == job_id)).mappings().one()), True

    def find_job(self, home: str, name: str) -> Job | None:
        """The job of this name; None where there is none, whatever the name contains."""
        if (parts := name_parts(name)) is None:
            return None
        with self._reading() as connection:
            row = connection.execute(_one(home, parts)).mappings().one_or_none()
        return None if row is None else _job(row)

    def list_jobs(self, home: str | None = None, *, limit: int | None = None) -> list[Job]:
        """The jobs of a data folder, or of all, the one asked for last first."""
        query = select(jobs).order_by(jobs.c.id.desc()).limit(limit)
        return self._jobs(query if home is None else query.where(jobs.c.home == home))

    def jobs_in_line(self, home: str) -> list[Job]:
        """The jobs that wait for their turn or have it, the one worked on first."""
        return self._jobs(_line(home))

    def change_job(self, job_id: int, decide: Callable[[Job, bool], Mapping[str, Any] | None]) -> Job | None:
        """Take one step with a job: what of its row changes is decided while nobody else can change any job.

        Parameters
        ----------
        decide : called with the job and whether others come before it in line; gives new values by column, or None
            where nothing is to be done.

        Returns the job as it then stands; None where it is not there or nothing was done. Raises StoreError.
        """
        with self._writing() as connection:
            _one_at_a_time(connection)
            row = connection.execute(select(jobs).where(jobs.c.id == job_id)).mappings().one_or_none()
            if row is None:
                return None
            head = connection.execute(_line(row["home"]).limit(1)).mappings().first()
            before = row["in_line"] and head is not None and head["id"] < job_id
            values = decide(_job(row), before)
            if values is None:
                return None
            connection.execute(update(jobs).where(jobs.c.id == job_id).values(storable(values)))
            return _job(connection.execute(select(jobs).where(jobs.c.id == job_id)).mappings().one())

    def write_progress(self, job: Job, status: JobStatus, now: float, result: str | None = None) -> bool:
        """Write how far the holder of a claim is, or how it ended; False when the claim is no longer its (StoreError).

        The review a job saved stays: only the transaction that saves it names it.
        """
        values = asdict(status) | {"heartbeat_at": now, "review_id": jobs.c.review_id}
        values |= {} if result is None else {"result": result}
        with self._writing() as connection:
            return connection.execute(update(jobs).where(*_claimed_by(job)).values(storable(values))).rowcount == 1

    def holds_claim(self, job: Job) -> bool:
        """Whether a job is there and still belongs to the holder of this claim (StoreError)."""
        with self._reading() as connection:
            return connection.execute(select(jobs.c.id).where(*_claimed_by(job))).first() is not None

    def set_put_away(self, ids: Sequence[int], put_away: bool) -> None:
        """Show jobs no more, or again (StoreError)."""
        with self._writing() as connection:
            connection.execute(update(jobs).where(jobs.c.id.in_(ids)).values(put_away=put_away))

    def stop_jobs(self, ids: Sequence[int]) -> None:
        """Take jobs from their workers, who can save nothing any more; the rows stay until `delete_jobs`."""
        with self._writing() as connection:
            _one_at_a_time(connection)
            query = update(jobs).where(jobs.c.id.in_(ids), jobs.c.state.not_in(_OVER))
            connection.execute(query.values(state="failed", problem=DELETED, claim=None))

    def delete_jobs(self, ids: Sequence[int]) -> None:
        """Delete jobs for good (StoreError)."""
        with self._writing() as connection:
            drop_jobs(connection, ids)

    def _jobs(self, query: Select[Any]) -> list[Job]:
        with self._reading() as connection:
            return [_job(row) for row in connection.execute(query).mappings()]


def saved_by(connection: Connection, job: Job) -> int | None:
    """Within a transaction that saves a job's review: the review it saved before, None where there is none.

    Raises StoreError when the job was deleted, or belongs to another worker.
    """
    query = select(jobs.c.review_id).where(*_claimed_by(job)).with_for_update()
    if (row := connection.execute(query).one_or_none()) is None:
        raise StoreError(DELETED)
    return cast(int | None, row.review_id)


def note_saved(connection: Connection, job: Job, review_id: int) -> None:
    """Within that transaction: say which review it is."""
    connection.execute(update(jobs).where(jobs.c.id == job.id).values(review_id=review_id))


def drop_jobs(connection: Connection, ids: Sequence[int]) -> None:
    """Delete jobs within a transaction."""
    connection.execute(delete(jobs).where(jobs.c.id.in_(ids)))


# ---------------------------------------------------------------- inside


def _one_at_a_time(connection: Connection) -> None:
    """Until the transaction ends nobody else takes a step with a job; SQLite has one writer at a time anyway."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK_KEY})


def _claimed_by(job: Job) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    return jobs.c.id == job.id, jobs.c.claim == job.claim


def _one(home: str, parts: tuple[str, int]) -> Select[Any]:
    return select(jobs).where(jobs.c.home == home, jobs.c.key == parts[0], jobs.c.number == parts[1])


def _line(home: str) -> Select[Any]:
    return select(jobs).where(jobs.c.home == home, jobs.c.in_line, jobs.c.state.not_in(_OVER)).order_by(jobs.c.id)


def _row(home: str, key: str, number: int, request: JobRequest, status: JobStatus, now: float) -> dict[str, Any]:
    row = asdict(request) | {"of_review_id": request.review_id, "in_line": request.in_line}
    row |= {"home": home, "key": key, "number": number, "restarts": 0, "put_away": False}
    return row | asdict(status) | {"heartbeat_at": now}


def _job(row: RowMapping) -> Job:
    asked = {name: row[name] for name in JobRequest.__dataclass_fields__ if name != "review_id"}
    asked["same_set"] = bool(asked["same_set"])
    request = JobRequest(**asked, review_id=row["of_review_id"])
    status = JobStatus(**{name: row[name] for name in JobStatus.__dataclass_fields__})
    if status.review_id is None:
        status = replace(status, review_id=request.review_id)
    own = ("id", "key", "number", "claim", "worker_pid", "restarts", "put_away", "result")
    return Job(request=request, status=status, **{name: row[name] for name in own})
