"""Which files belong to a client: landmarks, kept clips, drawn results."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.recording_cache import files_of_clip, is_checksum

PUT_AWAY = "put-away"
"""A file of this name in a job's folder: the user wants to see it no more."""


@dataclass(frozen=True, slots=True)
class ClientFiles:
    """What lies on disk because of one client's reviews, and of nobody else's."""

    own: tuple[Path, ...]
    """Files and folders formcheck made: they go when the client goes."""
    elsewhere: tuple[Path, ...]
    """The user's own clips, which lie outside formcheck's data folder and are left alone."""


def client_files(store: Store, client_id: int, home: Path) -> ClientFiles:
    """All files of a client below the data folder, and the clips that lie elsewhere (StoreError).

    Clips that stand in line or could not be reviewed count too. What another client's reviews use is not counted: the
    same clip may have been reviewed for both.
    """
    data = DataFolder(home)
    rows = store.list_reviews(client=client_id)
    numbers = {row.id for row in rows}
    jobs = _jobs(data)
    owners = {name: None if (found := store.find_client(name)) is None else found.id for name in _names(jobs)}
    theirs = [job for job in jobs if job.client is not None and owners[job.client] == client_id]
    others = [job for job in jobs if job.client is not None and job not in theirs]
    clips = {Path(row.clip_path) for row in rows if row.clip_path is not None}
    clips |= {Path(text) for job in theirs for text in job.clips}
    uploads = {path.name for path in clips if path.parent == data.clips and is_checksum(path.name)}
    going = store.clips_of(client=client_id) | uploads
    going -= store.clips_needed(going, besides_client=client_id)
    going -= {Path(text).name for job in others if not job.over for text in job.clips}
    own = [path for sha in sorted(going) for path in _of_clip(sha, data)]
    own += [path for number in sorted(numbers) if (path := data.artifacts(number)).is_dir()]
    own += [path for path in (data.client_export(client_id),) if path.is_file()]
    marks = {str(data.upload(sha)) for sha in going} | {str(path) for path in clips if path.name not in uploads}
    kept = [job for job in others if owners[job.client or ""] is not None or not job.over]
    own += [
        job.folder
        for job in jobs
        if job in theirs or job.reviews & numbers or (job not in kept and not marks.isdisjoint(job.clips))
    ]
    outside = {path for path in clips if not path.is_relative_to(home) and path.is_file()}
    return ClientFiles(tuple(dict.fromkeys(own)), tuple(sorted(outside)))


def review_files(store: Store, review_id: int, home: Path) -> tuple[Path, ...]:
    """Files and folders formcheck made for one review and for no other (StoreError when there is no such review).

    What stands in line or lies ready keeps its clip.
    """
    data = DataFolder(home)
    jobs = _jobs(data)
    going = store.clips_of(review_id=review_id)
    going -= store.clips_needed(going, besides_review=review_id)
    going -= {Path(text).name for job in jobs if job.needs_clip and review_id not in job.reviews for text in job.clips}
    own = [path for sha in sorted(going) for path in _of_clip(sha, data)]
    own += [place for place in (data.artifacts(review_id),) if place.is_dir()]
    marks = {str(data.upload(sha)) for sha in going}
    own += [job.folder for job in jobs if review_id in job.reviews or not marks.isdisjoint(job.clips)]
    return tuple(dict.fromkeys(own))


def upload_files(store: Store, clip: Path, home: Path) -> tuple[Path, ...]:
    """What formcheck keeps of a clip that was handed in and is needed by nothing any more (StoreError).

    None where a review is of it, where a job is at it or it lies ready for one, and for the user's own clips.
    """
    data = DataFolder(home)
    if clip.parent != data.clips or not is_checksum(clip.name):
        return ()
    jobs = [job for job in _jobs(data) if str(clip) in job.clips]
    # What is drawn for a review tells of it even when it is kept in another store.
    drawn = any(data.artifacts(number).is_dir() for job in jobs for number in job.reviews)
    if drawn or any(job.needs_clip for job in jobs) or store.clips_needed({clip.name}):
        return ()
    return (*_of_clip(clip.name, data), *(job.folder for job in jobs if job.looking))


@dataclass(frozen=True, slots=True)
class _Job:
    """A job of the page, as its folder tells it."""

    folder: Path
    client: str | None
    clips: tuple[str, ...]
    """Paths of the clips it is about."""
    reviews: frozenset[int]
    """The stored reviews it is about or led to."""
    over: bool
    looking: bool
    """A first look at a clip that was handed in, which lies ready until it is reviewed or put away."""

    @property
    def needs_clip(self) -> bool:
        """Whether the clips must stay for it."""
        return not (self.folder / PUT_AWAY).exists() if self.looking else not self.over


def _jobs(data: DataFolder) -> list[_Job]:
    """Every job; what cannot be read of one is taken for nothing."""
    found = []
    for folder in sorted(path for path in data.jobs.glob("*") if path.is_dir() and not path.name.startswith(".")):
        request, status = _loaded(folder / "request.json"), _loaded(folder / "status.json")
        client = request.get("client")
        paths = (request.get("clip_path"), request.get("second_path"))
        numbers = (request.get("review_id"), status.get("review_id"))
        found.append(
            _Job(
                folder,
                client if isinstance(client, str) else None,
                tuple(path for path in paths if isinstance(path, str) and path),
                frozenset(number for number in numbers if isinstance(number, int)),
                status.get("state") in ("done", "failed"),
                request.get("kind") == "look",
            )
        )
    return found


def _loaded(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _names(jobs: Iterable[_Job]) -> set[str]:
    return {job.client for job in jobs if job.client is not None}


def _of_clip(sha256: str, data: DataFolder) -> list[Path]:
    """What is kept of a clip: landmarks, and the upload with all that lies beside it."""
    return [*files_of_clip(sha256, data.recordings), *sorted(data.clips.glob(f"{sha256}*"))]
