"""Reviews and their documents."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "reviews",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("client", sa.Text),
        sa.Column("clip_path", sa.Text),
        sa.Column("clip_name", sa.Text, nullable=False),
        sa.Column("clip_sha256", sa.String(64), nullable=False),
        sa.Column("exercise_id", sa.Text, nullable=False),
        sa.Column("exercise_name", sa.Text, nullable=False),
        sa.Column("view", sa.Text, nullable=False),
        sa.Column("load_kg", sa.Float),
        sa.Column("target_reps", sa.Integer),
        sa.Column("complete_reps", sa.Integer, nullable=False),
        sa.Column("partial_reps", sa.Integer, nullable=False),
        sa.Column("met", sa.Integer, nullable=False),
        sa.Column("not_met", sa.Integer, nullable=False),
        sa.Column("undecided", sa.Integer, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("reviews_by_time", "reviews", ["created_at"])
    op.create_index("reviews_by_client", "reviews", ["client", "created_at"])
    op.create_index("reviews_by_clip", "reviews", ["clip_sha256", "exercise_id"])
    op.create_table(
        "documents",
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
