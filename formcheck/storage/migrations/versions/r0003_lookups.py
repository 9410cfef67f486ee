"""Which clip a second camera took, and indexes for whatever is looked up among very many reviews."""

import json

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

_AT_ONCE = 200
_REVIEWS = sa.table("reviews", sa.column("id", sa.Integer), sa.column("second_clip_sha256", sa.String))
_DOCUMENTS = sa.table("documents", sa.column("review_id", sa.Integer), sa.column("body", sa.Text))


def upgrade() -> None:
    """Take the second clips out of the documents, which stay as they are."""
    op.add_column("reviews", sa.Column("second_clip_sha256", sa.String(64)))
    _fill(op.get_bind())
    op.drop_index("reviews_by_client_id", "reviews")
    op.create_index("reviews_by_client_id", "reviews", ["client_id", "exercise_id", "session_on"])
    op.create_index("reviews_by_second_clip", "reviews", ["second_clip_sha256"])
    op.create_index("reviews_by_path", "reviews", ["clip_path"])
    op.create_index("reviews_by_session", "reviews", ["session_on", "exercise_id"])


def _fill(connection: sa.Connection) -> None:
    query = sa.select(_DOCUMENTS.c.review_id, _DOCUMENTS.c.body)
    query = query.where(_DOCUMENTS.c.body.contains('"second_camera": {')).execution_options(yield_per=_AT_ONCE)
    found = [(number, sha256) for number, body in connection.execute(query) if (sha256 := _second_clip(body))]
    for number, sha256 in found:
        values = {"second_clip_sha256": sha256}
        connection.execute(sa.update(_REVIEWS).where(_REVIEWS.c.id == number).values(values))


def _second_clip(body: str) -> str | None:
    """None where the document is damaged: it stays for `Store.check` to tell."""
    try:
        found = json.loads(body)["second_camera"]["clip"]["sha256"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return found if isinstance(found, str) and len(found) == 64 else None
