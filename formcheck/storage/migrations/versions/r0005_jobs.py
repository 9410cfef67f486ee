"""Work asked for on the page: a row each, in the place of folders with marker files."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the table; folders of an earlier program are taken over when the page first looks for jobs."""
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("home", sa.String(32), nullable=False),
        sa.Column("key", sa.String(20), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("in_line", sa.Boolean, nullable=False),
        sa.Column("clip_path", sa.Text, nullable=False),
        sa.Column("clip_name", sa.Text, nullable=False),
        sa.Column("exercise", sa.Text, nullable=False),
        sa.Column("view", sa.Text, nullable=False),
        sa.Column("load_kg", sa.Float),
        sa.Column("target_reps", sa.Integer),
        sa.Column("of_review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE")),
        sa.Column("client", sa.Text),
        sa.Column("session_on", sa.Text),
        sa.Column("second_path", sa.Text),
        sa.Column("second_name", sa.Text),
        sa.Column("blur_faces", sa.Boolean, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("stage", sa.Text, nullable=False),
        sa.Column("share", sa.Float, nullable=False),
        sa.Column("seconds_left", sa.Float),
        sa.Column("spent_s", sa.Float),
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE")),
        sa.Column("problem", sa.Text),
        sa.Column("heartbeat_at", sa.Float, nullable=False),
        sa.Column("claim", sa.String(32)),
        sa.Column("worker_pid", sa.Integer),
        sa.Column("restarts", sa.Integer, nullable=False),
        sa.Column("put_away", sa.Boolean, nullable=False),
        sa.Column("result", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("jobs_by_key", "jobs", ["home", "key", "number"], unique=True)
    op.create_index("jobs_by_review", "jobs", ["review_id"])
    op.create_index("jobs_by_drawn_review", "jobs", ["of_review_id"])
