"""A client's data deleted whole: files, landmarks, drawn results, rows."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from formcheck.core.errors import OutputError
from formcheck.storage import Store
from formcheck.storage.client_files import OwnedData, client_files, review_files, upload_files

UNDO_S = 10.0
"""So long a deletion asked for in a list can be undone."""


@dataclass(frozen=True, slots=True)
class Deletion:
    """What a deletion takes away, or took away."""

    client: str
    reviews: int
    files: int
    """Files and folders in formcheck's data folder."""
    left_alone: tuple[Path, ...]
    """The user's own clips elsewhere, which formcheck never deletes."""


def plan_deletion(store: Store, who: str | int, home: Path) -> Deletion:
    """What would be deleted, to be shown before it is (StoreError when there is no such client)."""
    client = store.get_client(who)
    found = client_files(store, client.id, home)
    rows = store.list_reviews(client=client.id)
    return Deletion(client.name, len(rows), len(found.own), found.elsewhere)


def delete_client_data(store: Store, who: str | int, home: Path) -> Deletion:
    """Delete a client whole, for good.

    The jobs are stopped first, then the files go: should this be stopped half-way, the rows still tell what is left,
    and it can be called again.
    Raises StoreError when there is no such client, OutputError when a file cannot be deleted (the rows then stay).
    """
    plan = plan_deletion(store, who, home)
    found = client_files(store, store.get_client(who).id, home)
    _delete_files(store, found)
    store.delete_client(who, jobs=found.jobs)
    return plan


def delete_review_data(store: Store, review_id: int, home: Path) -> int:
    """Delete one review with what was drawn for it, and the landmarks and uploads no other review needs.

    Returns how many files and folders went. Raises StoreError when there is no such review, OutputError when a file
    cannot be deleted (the review then stays).
    """
    found = review_files(store, review_id, home)
    _delete_files(store, found)
    store.delete_review(review_id, jobs=found.jobs)
    return len(found.own)


def delete_marked(store: Store, home: Path, *, now: datetime) -> list[int]:
    """Delete the reviews that were asked to be deleted more than `UNDO_S` ago, as `delete_review_data`.

    Returns their numbers. What is stopped half-way is gone on with by the next call. Raises StoreError, OutputError.
    """
    since = now - timedelta(seconds=UNDO_S)
    marked = store.list_reviews(marked="deletion_at")
    over = [row.id for row in marked if row.deletion_at is not None and row.deletion_at <= since]
    for number in over:
        delete_review_data(store, number, home)
    return over


def delete_upload(store: Store, clip: Path, home: Path) -> int:
    """Delete a clip that was handed in, with what was seen in it, where nothing needs it any more.

    Returns how many files and folders went; 0 for a clip of the user's own or one that is needed. Raises StoreError,
    and OutputError when a file cannot be deleted.
    """
    found = upload_files(store, clip, home)
    _delete_files(store, found)
    store.delete_jobs(found.jobs)
    return len(found.own)


def _delete_files(store: Store, found: OwnedData) -> None:
    store.stop_jobs(found.jobs)
    for path in found.own:
        try:
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            else:
                path.unlink(missing_ok=True)
        except FileNotFoundError:
            continue  # a worker that was ending took a file away itself
        except OSError as error:
            raise OutputError(
                f"{path} cannot be deleted: {error.strerror}; nothing was taken out of the store."
            ) from error
