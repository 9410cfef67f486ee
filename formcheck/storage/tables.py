"""The store's tables as this program uses them; how they came to be is told by the migrations."""

from datetime import UTC, datetime
from functools import partial
from typing import Any

import sqlalchemy as sa

SCHEMA_REVISION = "0012"
"""The newest migration; here so that opening an up-to-date store need not read the migrations."""


class UtcDateTime(sa.TypeDecorator[datetime]):
    """A moment, stored in UTC also by a database that knows no time zones."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Refuse a time that does not say where it holds (ValueError)."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a stored time needs a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Give back the moment in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _columns(nullable: bool, kind: Any, *names: str) -> list[sa.Column[Any]]:
    """Columns of one type."""
    return [sa.Column(name, kind, nullable=nullable) for name in names]


_required, _optional = partial(_columns, False), partial(_columns, True)


def _reference(name: str, table: str, **options: Any) -> sa.Column[int]:
    """A column with the number of a row of another table, with which this row is deleted."""
    return sa.Column(name, sa.Integer, sa.ForeignKey(f"{table}.id", ondelete="CASCADE"), **options)


_CHECKSUM = sa.String(64)
metadata = sa.MetaData()


def _table(name: str, *parts: sa.Column[Any] | sa.Index, autoincrement: bool = False) -> sa.Table:
    """A table whose rows are numbered unless one of its columns is its key."""
    own_key = any(isinstance(part, sa.Column) and part.primary_key for part in parts)
    number = [] if own_key else [sa.Column("id", sa.Integer, primary_key=True)]
    return sa.Table(name, metadata, *number, *parts, sqlite_autoincrement=autoincrement)


# `name_key`: the name as it is compared, without regard to case and spacing.
clients = _table(
    "clients",
    *_required(UtcDateTime, "created_at"),
    *_required(sa.Text, "name", "name_key"),
    *_optional(sa.Text, "notes"),
    sa.Index("clients_by_name", "name_key", unique=True),
    autoincrement=True,
)

# An id told to a person must never come to mean another review after a deletion: hence the autoincrement.
# `problems`: codes of the review's problems, the gravest first, joined by commas.
# `probably_met`, `probably_not_met`, `too_close`: so many of `met`, `not_met` and `undecided`.
# `left_reps`, `right_reps`: complete ones of each arm alone; null where both work at once or nothing tells.
# `target_each_side`: the target reps are meant of the left and of the right.
# `seen_at`: first opened on the page; `done_at`: marked as done; `deletion_at`: asked to be deleted, which can be
# undone for a few seconds.
reviews = _table(
    "reviews",
    _reference("client_id", "clients"),
    *_required(UtcDateTime, "created_at"),
    *_required(sa.Text, "clip_name", "exercise_id", "exercise_name", "view"),
    *_required(sa.Integer, "complete_reps", "partial_reps", "met", "not_met", "undecided"),
    *_required(_CHECKSUM, "clip_sha256"),
    *_optional(_CHECKSUM, "second_clip_sha256"),
    *_optional(sa.Text, "clip_path", "variation"),
    *_optional(sa.Float, "load_kg"),
    *_optional(sa.Integer, "target_reps", "set_number", "left_reps", "right_reps"),
    *_optional(sa.Date, "session_on"),
    *_optional(UtcDateTime, "seen_at", "done_at", "deletion_at"),
    *(
        sa.Column(name, sa.Boolean, nullable=False, server_default=sa.false())
        for name in ("by_hand", "target_each_side")
    ),
    sa.Column("problems", sa.Text, nullable=False, server_default=""),
    *(
        sa.Column(name, sa.Integer, nullable=False, server_default="0")
        for name in ("probably_met", "probably_not_met", "too_close")
    ),
    sa.Index("reviews_by_time", "created_at"),
    sa.Index("reviews_by_client_id", "client_id", "exercise_id", "session_on"),
    sa.Index("reviews_by_clip", "clip_sha256", "exercise_id"),
    sa.Index("reviews_by_second_clip", "second_clip_sha256"),
    sa.Index("reviews_by_path", "clip_path"),
    sa.Index("reviews_by_session", "session_on", "exercise_id"),
    autoincrement=True,
)

# Apart from the rows above, so that listing a thousand reviews reads none of their documents.
documents = _table(
    "documents",
    _reference("review_id", "reviews", primary_key=True),
    *_required(_CHECKSUM, "sha256"),
    *_required(sa.Text, "body"),
)

# A review as corrected by hand; the one made by the machine stays in `documents`. The newest not undone is in force.
revisions = _table(
    "revisions",
    _reference("review_id", "reviews", nullable=False),
    *_required(sa.Integer, "number"),
    *_required(UtcDateTime, "created_at"),
    *_optional(UtcDateTime, "undone_at"),
    *_required(_CHECKSUM, "sha256"),
    *_required(sa.Text, "edits", "body"),
    sa.Index("revisions_by_review", "review_id", "number", unique=True),
)

# Every plan ever set; the newest of client and exercise is in force, and none when it has no notation.
plans = _table(
    "plans",
    _reference("client_id", "clients", nullable=False),
    *_required(sa.Text, "exercise_id"),
    *_required(UtcDateTime, "created_at"),
    *_required(sa.Date, "since"),
    *_optional(sa.Text, "notation", "remark"),
    sa.Index("plans_by_client", "client_id", "exercise_id", "since"),
)

set_notes = _table(
    "set_notes",
    _reference("review_id", "reviews", primary_key=True),
    *_required(UtcDateTime, "written_at"),
    *_optional(sa.Float, "reps_in_reserve", "effort", "sleep_h"),
    *_optional(sa.Boolean, "pain"),
    *_optional(sa.Text, "pain_where", "remark"),
)

# What the coach says; `strokes`: pen strokes as JSON; `voice`: a WAV file, `voice_sha256` its checksum.
comments = _table(
    "comments",
    _reference("review_id", "reviews", nullable=False),
    *_required(UtcDateTime, "created_at"),
    *_required(sa.Text, "text"),
    *_optional(sa.Float, "at_s"),
    *_optional(sa.Text, "strokes"),
    *_optional(_CHECKSUM, "voice_sha256"),
    *_optional(sa.LargeBinary, "voice"),
    sa.Index("comments_by_review", "review_id"),
)

# Whether the coach agrees with what a review says of a check, or of a rep (`check_id` "rep"); of one thing, one answer.
# `verdict`: what the review said then. `rep_s`: a moment of the rep, so that reps may be counted anew.
ratings = _table(
    "ratings",
    _reference("review_id", "reviews", nullable=False),
    *_required(UtcDateTime, "created_at"),
    *_required(sa.Text, "check_id", "verdict"),
    *_required(sa.Boolean, "agrees"),
    *_optional(sa.Float, "rep_s"),
    *_optional(sa.Text, "why"),
    sa.Index("ratings_by_review", "review_id"),
)

# The rep of a client that others of the exercise and camera side are held against: those of its review's row, of which
# there is one at most. `rep_s`: the moment of its top, so that reps may be counted anew.
reference_reps = _table(
    "reference_reps",
    _reference("review_id", "reviews", primary_key=True),
    *_required(UtcDateTime, "created_at"),
    *_required(sa.Float, "rep_s"),
)

# Every set of own limits ever stored; the newest of exercise and client (or of all clients, null) is in force.
limits = _table(
    "limits",
    _reference("client_id", "clients"),
    *_required(sa.Text, "exercise_id", "body"),
    *_required(UtcDateTime, "created_at"),
    sa.Index("limits_by_exercise", "exercise_id", "client_id"),
)

# Work asked for on the page, beside which it is done; never part of a backup. A job's name is its key and number.
# `id`: the place in line, higher for whatever was asked for later. `home`: the data folder whose page it was asked on;
# several may share a database, and only one has the clips. `key`: the same for the same work.
# `of_review_id`: the review it draws for; `review_id`: the one it saved, set by the transaction that saves it.
# `heartbeat_at`: seconds since the epoch, as the worker's machine has it. `claim`: what its one worker knows itself by.
# `result`: what a first look at a clip found, as JSON, or what a person is asked; `same_set`: the answer.
jobs = _table(
    "jobs",
    _reference("of_review_id", "reviews"),
    _reference("review_id", "reviews"),
    *_required(sa.String(32), "home"),
    *_optional(sa.String(32), "claim"),
    *_required(sa.String(20), "key"),
    *_required(sa.Text, "kind", "clip_path", "clip_name", "exercise", "view", "state", "stage"),
    *_optional(sa.Text, "client", "session_on", "second_path", "second_name", "problem", "result", "excerpt"),
    *_required(sa.Boolean, "in_line", "blur_faces", "put_away"),
    *_optional(sa.Boolean, "same_set"),
    *_required(sa.Float, "share", "heartbeat_at"),
    *_optional(sa.Float, "load_kg", "seconds_left", "spent_s"),
    *_required(sa.Integer, "number", "restarts"),
    *_optional(sa.Integer, "target_reps", "worker_pid"),
    sa.Index("jobs_by_key", "home", "key", "number", unique=True),
    sa.Index("jobs_by_review", "review_id"),
    sa.Index("jobs_by_drawn_review", "of_review_id"),
    autoincrement=True,
)
