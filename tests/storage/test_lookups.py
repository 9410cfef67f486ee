"""Looking something up never reads every review: the database itself tells how it goes about each question.

SQLite: https://www.sqlite.org/eqp.html ("SCAN" is a walk through a whole table or index). PostgreSQL, told to avoid it
where it can, still names a "Seq Scan" where no index serves (documentation of EXPLAIN and of enable_seqscan).
"""

from collections.abc import Callable

import pytest
from sqlalchemy import Engine, event, text

from formcheck.core.model import Review
from formcheck.storage import Store
from tests.storage.conftest import NOON, by_two
from tests.storage.questions import QUESTIONS, WALKS
from tests.storage.test_postgresql import server, url  # noqa: F401  # fixtures

ASKED = {**QUESTIONS, "deleting a review": lambda store: store.delete_review(2)}


def walked(store: Store, ask: Callable[[Store], object]) -> list[str]:
    """The steps of all questions' plans that read a table of reviews from end to end."""
    sqlite = store.engine.dialect.name == "sqlite"
    steps: list[str] = []

    def explained(connection: object, cursor: object, statement: str, given: object, *_: object) -> None:
        if statement.startswith(("SELECT", "DELETE")):
            own = connection.connection.driver_connection.cursor()  # type: ignore[attr-defined]
            own.execute(("EXPLAIN QUERY PLAN " if sqlite else "EXPLAIN ") + statement, given)
            steps.extend(str(row[-1]) for row in own.fetchall())

    event.listen(store.engine, "before_cursor_execute", explained)
    try:
        ask(store)
    finally:
        event.remove(store.engine, "before_cursor_execute", explained)
    assert steps, "nothing was asked"
    return [step for step in steps if "Seq Scan" in step or step.startswith(("SCAN reviews", "SCAN documents"))]


def filled(store: Store, of_clip: Callable[[int], Review]) -> None:
    for number in range(1, 4):
        store.save_review(of_clip(number), created_at=NOON, client="Ada", clip_path=f"clips/{number}.mp4")
    store.save_review(by_two(of_clip(4), of_clip(1)), created_at=NOON, client="Bea")


@pytest.mark.parametrize("what", ASKED)
def test_no_question_walks_through_all_reviews(store: Store, of_clip: Callable[[int], Review], what: str) -> None:
    filled(store, of_clip)
    assert walked(store, ASKED[what]) == []


@pytest.mark.parametrize("what", WALKS)
def test_a_walk_would_be_seen(store: Store, of_clip: Callable[[int], Review], what: str) -> None:
    filled(store, of_clip)
    assert walked(store, WALKS[what]) != []


@pytest.mark.parametrize("what", ASKED)
def test_nor_on_postgresql(url: str, of_clip: Callable[[int], Review], what: str) -> None:  # noqa: F811
    with Store.open(url) as store:
        filled(store, of_clip)
        _avoid_walks(store.engine)
        assert walked(store, ASKED[what]) == []


def _avoid_walks(engine: Engine) -> None:
    with engine.connect() as connection:
        name = connection.execute(text("SELECT current_database()")).scalar_one()
        connection.execute(text(f"ALTER DATABASE {name} SET enable_seqscan = off"))
        connection.commit()
    engine.dispose()


def test_a_clip_is_needed_by_whoever_else_has_a_review_of_it(store: Store, of_clip: Callable[[int], Review]) -> None:
    one, two, three = (f"{number:064x}" for number in (1, 2, 3))
    alone = store.save_review(of_clip(1), created_at=NOON, client="Ada")
    pair = store.save_review(by_two(of_clip(2), of_clip(3)), created_at=NOON, client="Ada")
    assert store.clips_of(client=1) == {one, two, three}
    assert store.clips_of(review_id=pair) == {two, three}
    assert store.clips_needed({one, two, three}, besides_client=1) == set()
    assert store.clips_needed({one, two, three}, besides_review=alone) == {two, three}
    store.save_review(of_clip(3), created_at=NOON)  # nobody's
    assert store.clips_needed({one, two, three}, besides_client=1) == {three}
    store.save_review(by_two(of_clip(4), of_clip(2)), created_at=NOON, client="Bea")
    assert store.clips_needed({one, two, three}, besides_client=1) == {two, three}
    assert store.clips_needed({one, two, three}, besides_review=pair) == {one, two, three}
    many = {f"{number:064x}" for number in range(1, 2001)}
    assert store.clips_needed(many, besides_client=2) == {one, two, three}
