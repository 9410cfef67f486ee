"""What belongs to a client: landmarks, stored clips, drawn results, and the jobs of the page."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.jobs import Job
from formcheck.storage.recording_cache import files_of_clip, is_checksum


@dataclass(frozen=True, slots=True)
class OwnedData:
    """What is there because of one client, review or clip, and of nothing else."""

    own: tuple[Path, ...] = ()
    """Files and folders formcheck made."""
    jobs: tuple[int, ...] = ()
    """The rows of its jobs."""
    elsewhere: tuple[Path, ...] = ()
    """The user's own clips, which lie outside formcheck's data folder and are left alone."""


def client_files(store: Store, client_id: int, home: Path) -> OwnedData:
    """What belongs to a client below the data folder, and the clips that lie elsewhere (StoreError).

    Clips that stand in line or could not be reviewed count too. What another client's reviews use is not counted: the
    same clip may have been reviewed for both.
    """
    data = DataFolder(home)
    rows = store.list_reviews(client=client_id)
    numbers = {row.id for row in rows}
    jobs = store.list_jobs()
    names = {job.request.client for job in jobs if job.request.client is not None}
    owners = {name: found.id for name in names if (found := store.find_client(name)) is not None}
    theirs = [job for job in jobs if owners.get(job.request.client or "") == client_id]
    others = [job for job in jobs if job.request.client is not None and job not in theirs]
    clips = {Path(row.clip_path) for row in rows if row.clip_path is not None}
    clips |= {Path(text) for job in theirs for text in job.request.clips}
    uploads = {path.name for path in clips if path.parent == data.clips and is_checksum(path.name)}
    going = store.clips_of(client=client_id) | uploads
    going -= store.clips_needed(going, besides_client=client_id)
    going -= {Path(text).name for job in others if not job.status.over for text in job.request.clips}
    own = [path for sha in sorted(going) for path in _of_clip(sha, data)]
    own += [*(data.artifacts(number).folder for number in sorted(numbers)), data.client_export(client_id)]
    own.append(data.chosen_export)  # it may hold sets of this client
    marks = {str(data.upload(sha)) for sha in going} | {str(path) for path in clips if path.name not in uploads}
    staying = [job for job in others if (job.request.client or "") in owners or not job.status.over]
    marked = [job for job in jobs if job not in staying and not marks.isdisjoint(job.request.clips)]
    ending = [job for job in jobs if job in theirs or job in marked or job.status.review_id in numbers]
    outside = {path for path in clips if not path.is_relative_to(home) and path.is_file()}
    return _owned(own, ending, data, tuple(sorted(outside)))


def review_files(store: Store, review_id: int, home: Path) -> OwnedData:
    """What belongs to one review and to no other (StoreError when there is no such review).

    What stands in line or lies ready keeps its clip.
    """
    data, jobs = DataFolder(home), store.list_jobs()
    going = store.clips_of(review_id=review_id)
    going -= store.clips_needed(going, besides_review=review_id)
    staying = [job for job in jobs if job.needs_clip and job.status.review_id != review_id]
    going -= {Path(text).name for job in staying for text in job.request.clips}
    own = [path for sha in sorted(going) for path in _of_clip(sha, data)]
    own.append(data.artifacts(review_id).folder)
    marks = {str(data.upload(sha)) for sha in going}
    ending = [job for job in jobs if job.status.review_id == review_id or not marks.isdisjoint(job.request.clips)]
    return _owned(own, ending, data)


def upload_files(store: Store, clip: Path, home: Path) -> OwnedData:
    """What is stored of a clip that was handed in and is needed by nothing any more (StoreError).

    Nothing where a review is of it, in this store or another, where a job is at it or it lies ready for one, and of the
    user's own clips.
    """
    data = DataFolder(home)
    if clip.parent != data.clips or not is_checksum(clip.name):
        return OwnedData()
    jobs = [job for job in store.list_jobs() if str(clip) in job.request.clips]
    drawn = any(clip.name in path.read_text(encoding="utf-8").split() for path in data.drawn.glob("*/clips.txt"))
    if drawn or any(job.needs_clip for job in jobs) or store.clips_needed({clip.name}):
        return OwnedData()
    return _owned(_of_clip(clip.name, data), [job for job in jobs if job.request.kind == "look"], data)


def _owned(own: Iterable[Path], jobs: Iterable[Job], data: DataFolder, elsewhere: tuple[Path, ...] = ()) -> OwnedData:
    ending = list(jobs)
    paths = dict.fromkeys([*own, *(data.job(job.name) for job in ending)])
    return OwnedData(tuple(path for path in paths if path.exists()), tuple(job.id for job in ending), elsewhere)


def _of_clip(sha256: str, data: DataFolder) -> list[Path]:
    """What is stored of a clip: landmarks, and the upload with all that lies beside it."""
    return [*files_of_clip(sha256, data.recordings), *sorted(data.clips.glob(f"{sha256}*"))]
