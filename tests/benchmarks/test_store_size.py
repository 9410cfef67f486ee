"""The stores that are timed hold whole reviews, and every question finds something in them."""

from pathlib import Path

from formcheck.storage import Store
from tests.storage.questions import QUESTIONS, WALKS


def test_every_question_has_an_answer(tmp_path: Path) -> None:
    from store_size import fill

    with Store.open(tmp_path / "few.sqlite") as store:
        fill(store, 2000)
        assert store.check() == 2000
        for name, ask in {**QUESTIONS, **WALKS}.items():
            if name not in ("client's files", "one review's files"):  # no file lies beside them
                assert ask(store), name
        assert {row.client for row in store.list_reviews(limit=4)} == {None, "Ada", "Client 2"}
