"""Whether the coach agrees with a review, and the rep of a client that later ones are held against."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add both tables; earlier reviews have neither."""
    op.create_table(
        "ratings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE"), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("check_id", sa.Text, nullable=False),
        sa.Column("verdict", sa.Text, nullable=False),
        sa.Column("agrees", sa.Boolean, nullable=False),
        sa.Column("rep_s", sa.Float),
        sa.Column("why", sa.Text),
    )
    op.create_index("ratings_by_review", "ratings", ["review_id"])
    op.create_table(
        "reference_reps",
        sa.Column("review_id", sa.Integer, sa.ForeignKey("reviews.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rep_s", sa.Float, nullable=False),
    )
