"""How sure the points of a review are, so that a list can say it without reading the documents."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Earlier reviews have no grades: none of their points is known to be only probable, or too close to call."""
    for name in ("probably_met", "probably_not_met", "too_close"):
        op.add_column("reviews", sa.Column(name, sa.Integer, nullable=False, server_default="0"))
