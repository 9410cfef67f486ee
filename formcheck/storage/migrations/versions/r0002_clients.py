"""Clients, sessions, plans, notes, corrections by hand, own limits."""

import unicodedata
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the tables; clients known by name only become rows of their own."""
    op.create_table(
        "clients",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("name_key", sa.Text, nullable=False),
        sa.Column("notes", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("clients_by_name", "clients", ["name_key"], unique=True)
    # Written out, because SQLite adds a reference only together with its column. Making the table anew instead would
    # let numbers of deleted reviews be given again.
    op.execute("ALTER TABLE reviews ADD COLUMN client_id INTEGER REFERENCES clients (id) ON DELETE CASCADE")
    op.add_column("reviews", sa.Column("session_on", sa.Date))
    op.add_column("reviews", sa.Column("set_number", sa.Integer))
    op.add_column("reviews", sa.Column("variation", sa.Text))
    op.add_column("reviews", sa.Column("by_hand", sa.Boolean, nullable=False, server_default=sa.false()))
    _carry_over(op.get_bind())
    op.drop_index("reviews_by_client", "reviews")
    op.drop_column("reviews", "client")
    op.create_index("reviews_by_client_id", "reviews", ["client_id", "session_on"])
    op.create_table(
        "revisions",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE"), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True)),
        sa.Column("edits", sa.Text, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("revisions_by_review", "revisions", ["review_id", "number"], unique=True)
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("client_id", sa.Integer, sa.ForeignKey("clients.id", ondelete="CASCADE"), nullable=False),
        sa.Column("exercise_id", sa.Text, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("since", sa.Date, nullable=False),
        sa.Column("notation", sa.Text),
        sa.Column("remark", sa.Text),
    )
    op.create_index("plans_by_client", "plans", ["client_id", "exercise_id", "since"])
    op.create_table(
        "set_notes",
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("written_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reps_in_reserve", sa.Float),
        sa.Column("effort", sa.Float),
        sa.Column("pain", sa.Boolean),
        sa.Column("pain_where", sa.Text),
        sa.Column("sleep_h", sa.Float),
        sa.Column("remark", sa.Text),
    )
    op.create_table(
        "limits",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("exercise_id", sa.Text, nullable=False),
        sa.Column("client_id", sa.Integer, sa.ForeignKey("clients.id", ondelete="CASCADE")),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("limits_by_exercise", "limits", ["exercise_id", "client_id"])


_REVIEWS = sa.table(
    "reviews",
    sa.column("id", sa.Integer),
    sa.column("created_at", sa.DateTime(timezone=True)),
    sa.column("client", sa.Text),
    sa.column("clip_sha256", sa.Text),
    sa.column("exercise_id", sa.Text),
    sa.column("client_id", sa.Integer),
    sa.column("session_on", sa.Date),
    sa.column("set_number", sa.Integer),
)
_CLIENTS = sa.table(
    "clients",
    sa.column("id", sa.Integer),
    sa.column("created_at", sa.DateTime(timezone=True)),
    sa.column("name", sa.Text),
    sa.column("name_key", sa.Text),
)


def _carry_over(connection: sa.Connection) -> None:
    """Give every review its client's row, its day as session, and its place among that day's sets."""
    rows = connection.execute(
        sa.select(
            *(_REVIEWS.c[name] for name in ("id", "created_at", "client", "clip_sha256", "exercise_id"))
        ).order_by(_REVIEWS.c.created_at, _REVIEWS.c.id)
    ).all()
    client_ids: dict[str, int] = {}
    sets: dict[tuple[int | None, date, str], dict[str, int]] = {}
    for review_id, created_at, client, clip, exercise in rows:
        client_id = _client_id(connection, client_ids, client, created_at)
        day = created_at.astimezone(UTC).date() if created_at.tzinfo else created_at.date()
        clips = sets.setdefault((client_id, day, exercise), {})
        # A clip reviewed twice on a day is one set.
        number = clips.setdefault(clip, len(clips) + 1)
        values: dict[str, Any] = {"client_id": client_id, "session_on": day, "set_number": number}
        connection.execute(sa.update(_REVIEWS).where(_REVIEWS.c.id == review_id).values(values))


def _client_id(connection: sa.Connection, known: dict[str, int], name: str | None, at: datetime) -> int | None:
    shown = " ".join(unicodedata.normalize("NFC", name or "").split())
    if not shown:
        return None
    key = shown.casefold()
    if key not in known:
        row = sa.insert(_CLIENTS).values(created_at=at, name=shown, name_key=key).returning(_CLIENTS.c.id)
        known[key] = int(connection.execute(row).scalar_one())
    return known[key]
