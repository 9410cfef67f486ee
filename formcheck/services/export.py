"""Everything kept of one client, written to a folder or a zip file: numbers, tables, landmarks, reports, clips."""

import json
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from formcheck.coaching.plan_adherence import planned_set
from formcheck.core.atomic_write import atomic_write, make_part_folder
from formcheck.core.errors import FormcheckError, OutputError, StoreError
from formcheck.exercises.limits import dump_limits
from formcheck.formats import encode
from formcheck.formats.csv_table import csv_text, measures_csv
from formcheck.formats.stored_json import encode_edits
from formcheck.services.review_outputs import ReviewOutputs, find_unchanged_clip, load_review_outputs
from formcheck.storage import Client, Store, StoredReview
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.recording_cache import recording_files

FORMAT, FORMAT_VERSION = "formcheck-client", 1
_SET_COLUMNS = (
    "review", "session", "set", "exercise", "variation", "load_kg", "complete_reps", "partial_reps", "target_reps",
    "planned_low", "planned_high", "kept", "to_change", "not_judged", "reps_in_reserve", "effort", "pain", "pain_where",
    "sleep_h", "remark", "corrected_by_hand", "clip",
)  # fmt: skip

Progress = Callable[[float, float | None], None]


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export holds."""

    reviews: int
    clips: int
    missing: tuple[str, ...]
    """What could not be written, one sentence each: landmarks no longer kept, a clip that is gone."""


def export_client(
    store: Store,
    who: str | int,
    target: Path,
    home: Path,
    *,
    exported_at: datetime,
    clips: bool = True,
    blur_faces: bool = False,
    on_progress: Progress | None = None,
) -> Exported:
    """Write everything kept of a client to a new folder, or to a zip file when the name ends in ``.zip``.

    It appears whole or not at all. Raises OutputError when the target is there already or cannot be written,
    StoreError when there is no such client.

    Parameters
    ----------
    home : formcheck's data folder.
    clips : whether the clips themselves go in.
    blur_faces : make the lifter's head and every other face that is found unrecognisable in key frames and clips; a
        clip in which that cannot be done stays out.
    """
    client = store.get_client(who)
    target = Path(target).expanduser().absolute()
    if target.exists() or target.is_symlink():
        raise OutputError(f"{target} is there already; choose another name for the export.")
    try:
        with make_part_folder(target) as part:
            done = _write(store, client, part, home, exported_at, clips, blur_faces, on_progress)
            if target.suffix.lower() == ".zip":
                with atomic_write(target, durable=True) as packed:
                    _zip(part, packed)
            else:
                part.replace(target)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"The export {target} cannot be written: {reason[:1].lower()}{reason[1:]}.") from error
    return done


def _write(
    store: Store,
    client: Client,
    folder: Path,
    home: Path,
    at: datetime,
    clips: bool,
    blur_faces: bool,
    on_progress: Progress | None,
) -> Exported:
    rows = store.list_reviews(client=client.id)
    missing: list[str] = []
    copied = 0
    (folder / "reviews").mkdir()
    for position, row in enumerate(reversed(rows)):
        if on_progress is not None:
            on_progress(position, len(rows))
        place = folder / "reviews" / "-".join((f"{row.id:05d}", *row.exercise_id[:60].split("/")))
        place.mkdir()
        whole = _write_review(store, row, place, home, missing)
        made = _write_reports(store, row, place, home, missing, blur_faces) if whole else None
        if clips:
            copied += _put_clip(row, made, place, missing, blur_faces)
    (folder / "sets.csv").write_text(_sets_csv(store, rows), encoding="utf-8", newline="")
    told = json.dumps(_client_document(store, client, rows, at), ensure_ascii=False, indent=2, default=str)
    (folder / "client.json").write_text(told + "\n", encoding="utf-8")
    (folder / "README.txt").write_text(_readme(client, len(rows), at, missing), encoding="utf-8")
    return Exported(len(rows), copied, tuple(missing))


def _write_review(store: Store, row: StoredReview, place: Path, home: Path, missing: list[str]) -> bool:
    """The numbers and the landmarks; whether the review could be read. One that is damaged keeps no other out."""
    review = None
    try:
        review = store.load_review(row.id)
        (place / "review.json").write_text(encode(review, indent=2) + "\n", encoding="utf-8")
        (place / "measures.csv").write_text(measures_csv(review), encoding="utf-8", newline="")
        if row.by_hand:
            (place / "original.json").write_text(encode(store.load_original(row.id), indent=2) + "\n", encoding="utf-8")
    except StoreError as error:
        missing.append(f"Review {row.id}, numbers: {error}")
    shas = [row.clip_sha256, *([review.second.clip.sha256] if review and review.second else [])]
    for number, sha in enumerate(shas, 1):
        for path in recording_files(sha, DataFolder(home).recordings)[:1]:
            shutil.copyfile(path, place / ("landmarks.npz" if number == 1 else "landmarks-2.npz"))
    return review is not None


def _write_reports(
    store: Store, row: StoredReview, place: Path, home: Path, missing: list[str], blur_faces: bool
) -> ReviewOutputs | None:
    """The report for a browser and for paper; what they were made from, where that could be had."""
    try:
        made = load_review_outputs(store, row.id, home)
        (place / "report.html").write_text(made.report_html(blur_faces=blur_faces), encoding="utf-8")
        (place / "report.pdf").write_bytes(made.report_pdf(blur_faces=blur_faces))
    except FormcheckError as error:
        missing.append(f"Review {row.id}, report: {error}")
        return None
    return made


def _put_clip(row: StoredReview, made: ReviewOutputs | None, place: Path, missing: list[str], blur_faces: bool) -> int:
    """Copy the clip, or write it with the faces covered; never the clip itself when that was asked for."""
    clip = find_unchanged_clip(row.clip_path, row.clip_sha256)
    if clip is None:
        missing.append(f"Review {row.id}, clip: it is not where it was when it was reviewed.")
        return 0
    try:
        if blur_faces:
            if made is None:
                raise OutputError("without the body points found in the clip the head cannot be found.")
            made.write_film(place / "clip.mp4", skeleton=False, blur_faces=True)
        else:
            ending = Path(row.clip_name).suffix.lower()
            safe = ending if ending[1:].isascii() and ending[1:].isalnum() and len(ending) <= 6 else ""
            shutil.copyfile(clip, place / f"clip{safe}")
    except FormcheckError as error:
        missing.append(f"Review {row.id}, clip with the face covered: {error}")
        return 0
    return 1


def _client_document(store: Store, client: Client, rows: list[StoredReview], at: datetime) -> dict[str, Any]:
    exercises = sorted({row.exercise_id for row in rows} | {item.exercise_id for item in store.plan_history(client.id)})
    return {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "exported_at": at.isoformat(),
        "client": {"name": client.name, "notes": client.notes, "since": client.created_at.isoformat()},
        "plans": [
            {
                "exercise": item.exercise_id,
                "since": item.since.isoformat(),
                "plan": None if item.plan is None else str(item.plan),
                "remark": item.remark,
            }
            for item in store.plan_history(client.id)
        ],
        "own_limits": [
            {"exercise": item.exercise_id, "set_at": item.created_at.isoformat(), "changes": dump_limits(item.changes)}
            for exercise in exercises
            for item in store.limits_history(exercise, client=client.id)
        ],
        "reviews": [
            {
                "review": row.id,
                "reviewed_at": row.created_at.isoformat(),
                "session": row.session_on.isoformat(),
                "set": row.set_number,
                "exercise": row.exercise_id,
                "variation": row.variation,
                "clip": row.clip_name,
                "note": None if (note := store.note_of(row.id)) is None else asdict(note),
                "corrections": [
                    {
                        "number": item.number,
                        "made_at": item.created_at.isoformat(),
                        "undone_at": None if item.undone_at is None else item.undone_at.isoformat(),
                        "edits": json.loads(encode_edits(item.edits)),
                    }
                    for item in store.revisions_of(row.id)
                ],
            }
            for row in reversed(rows)
        ],
    }


def _sets_csv(store: Store, rows: list[StoredReview]) -> str:
    table = []
    for row in sorted(rows, key=lambda row: (row.session_on, row.exercise_id, row.set_number, row.id)):
        note = store.note_of(row.id)
        held = store.plan_of(row.client_id, row.exercise_id, on=row.session_on) if row.client_id is not None else None
        planned = planned_set(held.plan if held else None, row.set_number, row.target_reps)
        said = (None,) * 6 if note is None else tuple(asdict(note).values())
        wanted = (None, None) if planned is None else (planned.reps_low, planned.reps_high)
        what = (row.id, row.session_on.isoformat(), row.set_number, row.exercise_id, row.variation, row.load_kg)
        counts = (row.complete_reps, row.partial_reps, row.target_reps, *wanted, row.met, row.not_met, row.undecided)
        table.append((*what, *counts, *said, row.by_hand, row.clip_name))
    return csv_text(_SET_COLUMNS, table)


def _readme(client: Client, reviews: int, at: datetime, missing: list[str]) -> str:
    lines = [
        f"Everything formcheck keeps of {client.name}, written on {at:%Y-%m-%d}: {reviews} reviews.",
        "",
        "client.json        plans, own limits, notes, corrections, and the list of reviews",
        "sets.csv           one row a set",
        "reviews/           a folder a review:",
        "  review.json        the review; its format is described in formcheck's docs/review-format.md",
        "  original.json      the review before corrections by hand, where there were any",
        "  measures.csv       every number with its margin",
        "  landmarks.npz      the body points it was read from (numpy arrays)",
        "  report.html        the report, for a browser",
        "  report.pdf         the same for paper",
        "  clip               the clip itself, or the clip with the faces covered where that was asked for",
        "",
        "Advisory only: measurements in a picture, never a diagnosis.",
    ]
    if missing:
        lines += ["", "Not in here:", *missing]
    return "\n".join(lines) + "\n"


def _zip(folder: Path, target: Path) -> None:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                # films do not get smaller by packing, it only takes long
                pack = zipfile.ZIP_STORED if path.stem == "clip" else zipfile.ZIP_DEFLATED
                archive.write(path, path.relative_to(folder).as_posix(), pack)
