"""The store's tables as this program uses them; how they came to be is told by the migrations."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    false,
)

SCHEMA_REVISION = "0005"
"""The newest migration; here so that opening an up-to-date store need not read the migrations."""


class UtcDateTime(TypeDecorator[datetime]):
    """A moment, kept in UTC also by a database that knows no time zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a time that does not say where it holds (ValueError)."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a stored time needs a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Give back the moment in UTC."""
        if value is None:
            return None
        moment: datetime = value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


metadata = MetaData()

clients = Table(
    "clients",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("created_at", UtcDateTime, nullable=False),
    Column("name", Text, nullable=False),
    # The name as it is compared: without regard to case and spacing.
    Column("name_key", Text, nullable=False),
    Column("notes", Text),
    Index("clients_by_name", "name_key", unique=True),
    sqlite_autoincrement=True,
)

reviews = Table(
    "reviews",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("created_at", UtcDateTime, nullable=False),
    Column("clip_path", Text),
    Column("clip_name", Text, nullable=False),
    Column("clip_sha256", String(64), nullable=False),
    Column("exercise_id", Text, nullable=False),
    Column("exercise_name", Text, nullable=False),
    Column("view", Text, nullable=False),
    Column("load_kg", Float),
    Column("target_reps", Integer),
    Column("complete_reps", Integer, nullable=False),
    Column("partial_reps", Integer, nullable=False),
    Column("met", Integer, nullable=False),
    Column("not_met", Integer, nullable=False),
    Column("undecided", Integer, nullable=False),
    Column("client_id", Integer, ForeignKey("clients.id", ondelete="CASCADE")),
    Column("session_on", Date),
    Column("set_number", Integer),
    Column("variation", Text),
    Column("by_hand", Boolean, nullable=False, server_default=false()),
    Column("second_clip_sha256", String(64)),
    # Codes of the review's problems, the gravest first, joined by commas.
    Column("problems", Text, nullable=False, server_default=""),
    Index("reviews_by_time", "created_at"),
    Index("reviews_by_client_id", "client_id", "exercise_id", "session_on"),
    Index("reviews_by_clip", "clip_sha256", "exercise_id"),
    Index("reviews_by_second_clip", "second_clip_sha256"),
    Index("reviews_by_path", "clip_path"),
    Index("reviews_by_session", "session_on", "exercise_id"),
    # An id told to a person must never come to mean another review after a deletion.
    sqlite_autoincrement=True,
)

# Apart from the rows above, so that listing a thousand reviews reads none of their documents.
documents = Table(
    "documents",
    metadata,
    Column("review_id", Integer, ForeignKey("reviews.id", ondelete="CASCADE"), primary_key=True),
    Column("sha256", String(64), nullable=False),
    Column("body", Text, nullable=False),
)

# A review as corrected by hand; the one made by the machine stays in `documents`. The newest not undone is in force.
revisions = Table(
    "revisions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("review_id", Integer, ForeignKey("reviews.id", ondelete="CASCADE"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("undone_at", UtcDateTime),
    Column("edits", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("body", Text, nullable=False),
    Index("revisions_by_review", "review_id", "number", unique=True),
)

# Every plan ever set; the newest of client and exercise is in force, and none when it has no notation.
plans = Table(
    "plans",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("client_id", Integer, ForeignKey("clients.id", ondelete="CASCADE"), nullable=False),
    Column("exercise_id", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("since", Date, nullable=False),
    Column("notation", Text),
    Column("remark", Text),
    Index("plans_by_client", "client_id", "exercise_id", "since"),
)

set_notes = Table(
    "set_notes",
    metadata,
    Column("review_id", Integer, ForeignKey("reviews.id", ondelete="CASCADE"), primary_key=True),
    Column("written_at", UtcDateTime, nullable=False),
    Column("reps_in_reserve", Float),
    Column("effort", Float),
    Column("pain", Boolean),
    Column("pain_where", Text),
    Column("sleep_h", Float),
    Column("remark", Text),
)

# Every set of own limits ever kept; the newest of exercise and client (or of all clients, null) is in force.
limits = Table(
    "limits",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("exercise_id", Text, nullable=False),
    Column("client_id", Integer, ForeignKey("clients.id", ondelete="CASCADE")),
    Column("created_at", UtcDateTime, nullable=False),
    Column("body", Text, nullable=False),
    Index("limits_by_exercise", "exercise_id", "client_id"),
)

# Work asked for on the page, beside which it is done. The id is the place in line: whatever was asked for later has a
# higher one. Never part of a backup: it is what goes on, not what is kept.
jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    # The data folder whose page it was asked on: several may share a database, and only one has the clips.
    Column("home", String(32), nullable=False),
    # The same for the same work; with the number, the job's name.
    Column("key", String(20), nullable=False),
    Column("number", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("in_line", Boolean, nullable=False),
    Column("clip_path", Text, nullable=False),
    Column("clip_name", Text, nullable=False),
    Column("exercise", Text, nullable=False),
    Column("view", Text, nullable=False),
    Column("load_kg", Float),
    Column("target_reps", Integer),
    Column("of_review_id", Integer, ForeignKey("reviews.id", ondelete="CASCADE")),
    Column("client", Text),
    Column("session_on", Text),
    Column("second_path", Text),
    Column("second_name", Text),
    Column("blur_faces", Boolean, nullable=False),
    Column("state", Text, nullable=False),
    Column("stage", Text, nullable=False),
    Column("share", Float, nullable=False),
    Column("seconds_left", Float),
    Column("spent_s", Float),
    # The review it saved; set by the transaction that saves it.
    Column("review_id", Integer, ForeignKey("reviews.id", ondelete="CASCADE")),
    Column("problem", Text),
    # Seconds since the epoch, as the worker's machine has it.
    Column("heartbeat_at", Float, nullable=False),
    # What its one worker knows itself by, and its process.
    Column("claim", String(32)),
    Column("worker_pid", Integer),
    Column("restarts", Integer, nullable=False),
    Column("put_away", Boolean, nullable=False),
    # What a look at a clip found, as JSON.
    Column("result", Text),
    Index("jobs_by_key", "home", "key", "number", unique=True),
    Index("jobs_by_review", "review_id"),
    Index("jobs_by_drawn_review", "of_review_id"),
    sqlite_autoincrement=True,
)
