"""Jobs of an earlier program, which stored them as folders with marker files: taken into the table once.

What waits, what lies ready and what failed and was not put away comes in, in the order it was asked for; what is over
and asked for by nothing is let go. The folders go once their rows are there, so it can be stopped at any moment. A
worker of the earlier program that is still at one of them finds its request gone and saves nothing.
"""

import json
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.jobs import JobRequest, JobStatus, name_parts

_LINE = ".line"
_taken: set[tuple[str, str]] = set()
"""Data folders and stores seen to by this process."""


def take_over_folders(store: Store, home: Path, home_id: str) -> None:
    """Take earlier jobs of a data folder into the store; does its work once a process (StoreError)."""
    if (str(home), store.location) in _taken:
        return
    folders = [path.parent for path in DataFolder(home).jobs.glob("*/request.json") if name_parts(path.parent.name)]
    if folders:
        store.take_over_jobs(home_id, list(_read_jobs(home, folders)))
        for folder in folders:
            shutil.rmtree(folder, ignore_errors=True)
    shutil.rmtree(DataFolder(home).jobs / _LINE, ignore_errors=True)
    _taken.add((str(home), store.location))


def _read_jobs(home: Path, folders: list[Path]) -> Iterator[tuple[str, JobRequest, JobStatus, bool, str | None]]:
    """Name, request, status, put away and result of what is taken in, in the order asked for."""
    for folder in sorted(folders, key=lambda folder: _read_order(home, folder)):
        try:
            request = JobRequest(**_read_json(folder / "request.json"))
        except TypeError:
            continue
        status, put_away = _read_json(folder / "status.json"), (folder / "put-away").exists()
        over = status.get("state") if status.get("state") in ("done", "failed") else None
        ready = request.kind == "look" and not put_away and Path(request.clip_path).is_file()
        if over is not None and not ready and (over == "done" or put_away or not request.new_review):
            continue
        problem, ended = status.get("problem"), status.get("written_at")
        taken = JobStatus(
            over or ("queued" if request.in_line else "waiting"),
            stage="Starting",
            problem=problem if isinstance(problem, str) else None,
            heartbeat_at=float(ended) if over and isinstance(ended, int | float) else 0.0,
        )
        result = None
        with suppress(OSError, UnicodeDecodeError):
            result = (folder / "look.json").read_text(encoding="utf-8")
        yield folder.name, request, taken, put_away, result


def _read_order(home: Path, folder: Path) -> int:
    """When a job was asked for, in nanoseconds: by its place in line where it has one."""
    marks = [path.name.partition(".")[0] for path in (DataFolder(home).jobs / _LINE).glob(f"*.{folder.name}")]
    return min((int(mark) for mark in marks if mark.isdigit()), default=(folder / "request.json").stat().st_mtime_ns)


def _read_json(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
