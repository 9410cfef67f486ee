"""A job may cut a part out of a reviewed clip, and says which."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add the column; earlier jobs cut nothing out."""
    op.add_column("jobs", sa.Column("excerpt", sa.Text))
