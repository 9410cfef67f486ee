"""The store's tables as this program uses them; how they came to be is told by the migrations."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    Column,
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
)

SCHEMA_REVISION = "0001"
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

reviews = Table(
    "reviews",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("created_at", UtcDateTime, nullable=False),
    Column("client", Text),
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
    Index("reviews_by_time", "created_at"),
    Index("reviews_by_client", "client", "created_at"),
    Index("reviews_by_clip", "clip_sha256", "exercise_id"),
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
