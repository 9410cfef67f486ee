"""What the coach says of a set, at a moment of it or of all of it."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Add the table; earlier reviews have no comments."""
    op.create_table(
        "comments",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE"), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("at_s", sa.Float),
        sa.Column("strokes", sa.Text),
        sa.Column("voice_sha256", sa.String(64)),
        sa.Column("voice", sa.LargeBinary),
    )
    op.create_index("comments_by_review", "comments", ["review_id"])
