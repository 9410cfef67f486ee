"""When a review was seen, marked as done, and asked to be deleted."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

_REVIEWS = sa.table("reviews", *(sa.column(name) for name in ("created_at", "seen_at")))


def upgrade() -> None:
    """Earlier reviews count as seen: nobody knows which were not, and a list in which all are new helps nobody."""
    for name in ("seen_at", "done_at", "deletion_at"):
        op.add_column("reviews", sa.Column(name, sa.DateTime(timezone=True)))
    op.get_bind().execute(sa.update(_REVIEWS).values(seen_at=_REVIEWS.c.created_at))
