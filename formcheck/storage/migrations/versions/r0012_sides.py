"""How many reps each arm made by itself, so that a list can say it, and whether the target reps are meant each side."""

import json
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"

_REVIEWS = sa.table(
    "reviews", sa.column("id", sa.Integer), sa.column("left_reps", sa.Integer), sa.column("right_reps", sa.Integer)
)
_DOCUMENTS = sa.table("documents", sa.column("review_id", sa.Integer), sa.column("body", sa.Text))
_REVISIONS = sa.table(
    "revisions",
    sa.column("review_id", sa.Integer),
    sa.column("number", sa.Integer),
    sa.column("undone_at", sa.Text),
    sa.column("body", sa.Text),
)


def upgrade() -> None:
    """Add the columns; of earlier reviews whose arms work alone the counts are read from their documents."""
    op.add_column("reviews", sa.Column("left_reps", sa.Integer))
    op.add_column("reviews", sa.Column("right_reps", sa.Integer))
    op.add_column("reviews", sa.Column("target_each_side", sa.Boolean, nullable=False, server_default=sa.false()))
    connection = op.get_bind()
    for review_id, left, right in list(_count_sides(connection)):
        mine = sa.update(_REVIEWS).where(_REVIEWS.c.id == review_id)
        connection.execute(mine.values(left_reps=left, right_reps=right))


def _count_sides(connection: sa.Connection) -> Iterator[tuple[int, int | None, int | None]]:
    """Review and its counts, as made by the machine first, then as corrected by hand, the newest correction last."""
    made = sa.select(_DOCUMENTS.c.review_id, _DOCUMENTS.c.body)
    made = made.where(sa.or_(*(_DOCUMENTS.c.body.contains(word) for word in ('"one"', '"alternating"'))))
    corrected = sa.select(_REVISIONS.c.review_id, _REVISIONS.c.body).where(_REVISIONS.c.undone_at.is_(None))
    for query in (made, corrected.order_by(_REVISIONS.c.review_id, _REVISIONS.c.number)):
        for review_id, body in connection.execute(query):
            yield (review_id, *_count(body))


def _count(body: str) -> tuple[int | None, int | None]:
    try:
        document: Any = json.loads(body)
        sides = [(rep.get("side"), rep["complete"]) for rep in document["reps"]]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None, None  # a damaged document is told of when it is read
    if not any(side for side, _ in sides):
        return None, None
    left, right = (sum(done is True for side, done in sides if side == wanted) for wanted in ("left", "right"))
    return left, right
