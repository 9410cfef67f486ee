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

SCHEMA_REVISION = "0004"
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
