"""Whether a person said that the two clips of a job show the same set."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Add the column; nobody was asked before."""
    op.add_column("jobs", sa.Column("same_set", sa.Boolean))
