"""What makes a review impossible or incomplete, so that a list can say it without reading the documents."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

_REVIEWS = sa.table(
    "reviews",
    sa.column("problems", sa.Text),
    sa.column("complete_reps", sa.Integer),
    sa.column("partial_reps", sa.Integer),
)


def upgrade() -> None:
    """Earlier reviews have no codes; of those without repetitions it is known that they have none."""
    op.add_column("reviews", sa.Column("problems", sa.Text, nullable=False, server_default=""))
    none = _REVIEWS.c.complete_reps + _REVIEWS.c.partial_reps == 0
    op.get_bind().execute(sa.update(_REVIEWS).where(none).values(problems="no-reps"))
