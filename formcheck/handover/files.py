"""Which files belong to a client: landmarks, kept clips, drawn results."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from formcheck.capture.kept import recording_files
from formcheck.store import Store


@dataclass(frozen=True, slots=True)
class ClientFiles:
    """What lies on disk because of one client's reviews, and of nobody else's."""

    own: tuple[Path, ...]
    """Files and folders formcheck made: they go when the client goes."""
    elsewhere: tuple[Path, ...]
    """The user's own clips, which lie outside formcheck's data folder and are left alone."""


def client_files(store: Store, client_id: int, home: Path) -> ClientFiles:
    """All files of a client below the data folder, and the clips that lie elsewhere (StoreError).

    What another client's reviews use too is not counted: the same clip may have been reviewed for both.
    """
    rows = store.list_reviews(client=client_id)
    shas = store.clips_of(client_id) - store.clips_of(client_id, others=True)
    clips = {Path(row.clip_path) for row in rows if row.clip_path is not None}
    own: list[Path] = []
    for sha in sorted(shas):
        own += recording_files(sha, home / "recordings")
        own += sorted(home.glob(f"clips/{sha}*"))
    own += [path for row in rows if (path := home / "drawn" / str(row.id)).is_dir()]
    own += [path for path in (export_place(home, client_id),) if path.is_file()]
    marks = [*shas, *(json.dumps(str(path)) for path in clips)]
    own += [folder for folder in sorted(home.glob("jobs/*")) if _names(folder, marks)]
    outside = {path for path in clips if not path.is_relative_to(home) and path.is_file()}
    return ClientFiles(tuple(dict.fromkeys(own)), tuple(sorted(outside)))


def export_place(home: Path, client_id: int) -> Path:
    """Where the page keeps the export of a client until it is saved elsewhere."""
    return home / "exports" / f"client-{int(client_id)}.zip"


def _names(folder: Path, marks: Sequence[str]) -> bool:
    """Whether a job's request speaks of one of these clips."""
    try:
        request = (folder / "request.json").read_text(encoding="utf-8")
    except (OSError, ValueError):
        return False
    return any(mark in request for mark in marks)
