"""A store that is deleted or replaced while it is used is told, and no new one is begun in its place."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from formcheck.batch.local import InProcessRunner
from formcheck.batch.requests import ClipRequest
from formcheck.batch.run import BatchRequest, run
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.storage import Store, file_identity
from formcheck.storage.backup import back_up, restore
from formcheck.storage.file_identity import accept_store, expected_store, missing_store, watch_store
from tests.made_up_lifter import Lifter, write_clip
from tests.storage.conftest import NOON, one_sentence

pytestmark = pytest.mark.skipif(os.name != "posix", reason="elsewhere an open file cannot be deleted")


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch, path: Path) -> Iterator[None]:
    monkeypatch.setattr(file_identity, "_to_watch", set())
    monkeypatch.setattr(file_identity, "_watched", {})
    watch_store(path)
    yield
    for path in list(file_identity._watched):
        accept_store(path)


def delete(path: Path) -> None:
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)


def replace(path: Path) -> None:
    delete(path)
    with Store.open(path.with_name("other.sqlite")):
        pass
    path.with_name("other.sqlite").rename(path)


@pytest.mark.parametrize(("change", "says"), [(delete, "deleted"), (replace, "replaced")])
def test_an_open_store_notices(
    store: Store, path: Path, review: Review, change: Callable[[Path], None], says: str
) -> None:
    number = store.save_review(review, created_at=NOON)
    change(path)
    for use in (
        lambda: store.save_review(review, created_at=NOON),
        lambda: store.load_review(number),
        lambda: store.delete_review(number),
        store.check,
    ):
        with pytest.raises(StoreError, match=says) as caught:
            use()
        one_sentence(caught.value)


@pytest.mark.parametrize("change", [delete, replace])
def test_a_watched_store_is_not_begun_anew(
    watched: None, path: Path, review: Review, change: Callable[[Path], None]
) -> None:
    with Store.open(path) as store:
        store.save_review(review, created_at=NOON)
    with Store.open(path) as store:
        assert store.count_reviews() == 1
    assert missing_store() is None
    change(path)
    gone = missing_store()
    assert gone is not None
    assert gone[0] == str(path)
    there = path.exists()
    with pytest.raises(StoreError):
        Store.open(path)
    assert path.exists() == there
    accept_store(path)
    assert missing_store() is None
    with Store.open(path) as store:
        assert store.count_reviews() == 0


def test_a_store_put_back_is_the_same_again(watched: None, path: Path, review: Review) -> None:
    with Store.open(path) as store:
        store.save_review(review, created_at=NOON)
    aside = path.with_name("aside.sqlite")
    path.rename(aside)
    assert missing_store() is not None
    aside.rename(path)
    assert missing_store() is None
    with Store.open(path) as store:
        assert store.count_reviews() == 1


def test_the_number_of_a_deleted_store_is_not_given_to_the_next(watched: None, path: Path) -> None:
    """POSIX: a file's number is free for another only when nobody has it open any more."""
    with Store.open(path):
        pass
    for _ in range(20):
        delete(path)
        path.touch()
        assert missing_store() is not None


def test_a_restored_store_is_the_same_store(watched: None, path: Path, review: Review, tmp_path: Path) -> None:
    with Store.open(path) as store:
        store.save_review(review, created_at=NOON)
        back_up(store, tmp_path / "b.sqlite")
        restore(path, tmp_path / "b.sqlite", restored_at=NOON)
        assert store.count_reviews() == 1
    assert missing_store() is None


def test_a_process_that_works_for_another_knows_its_store(watched: None, path: Path, root: Path) -> None:
    with Store.open(path):
        pass
    told = expected_store(path)
    code = f"from formcheck.storage import Store\nStore.open({str(path)!r}).close()"

    def opened() -> subprocess.CompletedProcess[str]:
        surroundings = {**os.environ, **told}
        command = [sys.executable, "-c", code]
        return subprocess.run(command, cwd=root, env=surroundings, capture_output=True, text=True, check=False)

    assert opened().returncode == 0
    delete(path)
    done = opened()
    assert "StoreError" in done.stderr
    assert not path.exists()


@pytest.mark.parametrize("change", [delete, replace])
def test_a_batch_whose_store_vanishes_ends_in_a_sentence(
    path: Path, tmp_path: Path, change: Callable[[Path], None]
) -> None:
    clips = [write_clip(tmp_path / f"set-{n}.mp4", shade=60 + 30 * n) for n in range(2)]
    orders = [ClipRequest(str(clip), "lateral-raise") for clip in clips]
    wanted = BatchRequest(orders, str(tmp_path / "kept"), estimator_factory=Lifter, clock=lambda: NOON)
    with Store.open(path) as store:
        told = []

        def tell(outcome: object) -> None:
            told.append(outcome)
            change(path)

        with pytest.raises(StoreError) as caught:
            run(wanted, store, InProcessRunner(), on_outcome=tell)
    one_sentence(caught.value)
    assert len(told) == 1
