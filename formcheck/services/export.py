"""What is stored of a client, or of some reviews, as a folder or a zip file: numbers, landmarks, reports, clips."""

import json
import re
import shutil
import zipfile
from collections.abc import Collection
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from formcheck.coaching.plan_adherence import get_planned_set
from formcheck.core.atomic_write import atomic_write, make_part_folder
from formcheck.core.errors import FormcheckError, OutputError, StoreError
from formcheck.core.model import ProgressReport, SetInfo
from formcheck.exercises.limits import dump_limits
from formcheck.formats import encode
from formcheck.formats.csv_table import write_csv, write_measures_csv
from formcheck.formats.stored_json import encode_edits
from formcheck.services.reference_rep import attach_reference
from formcheck.services.review_outputs import ReviewOutputs, find_unchanged_clip, load_review_outputs
from formcheck.storage import Client, Store, StoredReview
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.recording_cache import recording_files

FORMAT, FORMAT_VERSION = "formcheck-client", 1
_SET_COLUMNS = (
    "review", "session", "set", "exercise", "variation", "load_kg", "complete_reps", "partial_reps", "target_reps",
    "planned_low", "planned_high", "kept", "to_change", "not_judged", "probably_kept", "probably_to_change",
    "too_close", "reps_in_reserve", "effort", "pain", "pain_where", "sleep_h", "remark", "corrected_by_hand", "clip",
    "planned_each_side", "left_reps", "right_reps", "target_each_side",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export holds."""

    reviews: int
    clips: int
    missing: tuple[str, ...]
    """What could not be written, one sentence each: landmarks no longer stored, a clip that is gone."""


def export_client(
    store: Store,
    who: str | int,
    target: Path,
    home: Path,
    *,
    exported_at: datetime,
    clips: bool = True,
    blur_faces: bool = False,
    on_progress: ProgressReport | None = None,
) -> Exported:
    """Write everything stored of a client to a new folder, or to a zip file when the name ends in ``.zip``.

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
    rows = store.list_reviews(client=client.id)
    writing = _Writing(target, exported_at, clips, on_progress)
    return _write_export(_Export(store, rows, client, home, blur_faces), writing)


def export_reviews(
    store: Store,
    review_ids: Collection[int],
    target: Path,
    home: Path,
    *,
    exported_at: datetime,
    on_progress: ProgressReport | None = None,
) -> Exported:
    """Write some reviews as `export_client` does, without clips; those that are gone are passed over."""
    rows = [row for row in store.list_reviews() if row.id in review_ids]
    return _write_export(_Export(store, rows, None, home, False), _Writing(target, exported_at, False, on_progress))


@dataclass(frozen=True, slots=True)
class _Writing:
    """Where an export goes, when, and how."""

    target: Path
    at: datetime
    clips: bool
    on_progress: ProgressReport | None


def _write_export(export: "_Export", how: _Writing) -> Exported:
    target = Path(how.target).expanduser().absolute()
    if target.exists() or target.is_symlink():
        raise OutputError(f"{target} is there already; choose another name for the export.")
    try:
        with make_part_folder(target) as part:
            done = export.write(part, how.at, how.clips, how.on_progress)
            if target.suffix.lower() == ".zip":
                with atomic_write(target, durable=True) as packed:
                    _zip(part, packed)
            else:
                part.replace(target)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"The export {target} cannot be written: {reason[:1].lower()}{reason[1:]}.") from error
    return done


@dataclass
class _Export:
    """An export as it is written to a folder."""

    store: Store
    rows: list[StoredReview]
    client: Client | None
    """Whose everything it is; None for single reviews."""
    home: Path
    blur_faces: bool
    missing: list[str] = field(default_factory=list)
    """What could not be written, one sentence each."""

    def write(self, top: Path, at: datetime, clips: bool, on_progress: ProgressReport | None) -> Exported:
        """Write everything to a folder; a review of which something cannot be had keeps no other out."""
        rows, copied = self.rows, 0
        (top / "reviews").mkdir()
        for position, row in enumerate(reversed(rows)):
            if on_progress is not None:
                on_progress(position, len(rows))
            folder = top / "reviews" / "-".join((f"{row.id:05d}", *row.exercise_id[:60].split("/")))
            folder.mkdir()
            made = self._write_reports(row, folder) if self._write_review(row, folder) else None
            if clips:
                copied += self._write_clip(row, made, folder)
        (top / "sets.csv").write_text(_sets_csv(self.store, rows), encoding="utf-8", newline="")
        if self.client is not None:
            document = _client_document(self.store, self.client, rows, at)
            text = json.dumps(document, ensure_ascii=False, indent=2, default=lambda moment: moment.isoformat())
            (top / "client.json").write_text(text + "\n", encoding="utf-8")
        (top / "README.txt").write_text(_readme(self.client, len(rows), at, self.missing), encoding="utf-8")
        return Exported(len(rows), copied, tuple(self.missing))

    def _write_review(self, row: StoredReview, folder: Path) -> bool:
        """The numbers and the landmarks; whether the review could be read."""
        review = None
        try:
            review = attach_reference(self.store, row.id, self.store.load_review(row.id))
            (folder / "review.json").write_text(encode(review, indent=2) + "\n", encoding="utf-8")
            (folder / "measures.csv").write_text(write_measures_csv(review), encoding="utf-8", newline="")
            self._write_voice_notes(row, folder)
            if row.by_hand:
                original = encode(self.store.load_original(row.id), indent=2)
                (folder / "original.json").write_text(original + "\n", encoding="utf-8")
        except StoreError as error:
            self.missing.append(f"Review {row.id}, numbers: {error}")
        second = review.second.clip.sha256 if review and review.second else ""
        for sha, name in ((row.clip_sha256, "landmarks.npz"), (second, "landmarks-2.npz")):
            for path in recording_files(sha, DataFolder(self.home).recordings)[:1]:
                shutil.copyfile(path, folder / name)
        return review is not None

    def _write_voice_notes(self, row: StoredReview, folder: Path) -> None:
        for item in self.store.comments_of(row.id):
            if item.has_voice:
                (folder / f"comment-{item.id}.wav").write_bytes(self.store.voice_of(item.id))

    def _write_reports(self, row: StoredReview, folder: Path) -> ReviewOutputs | None:
        """The report for a browser and for paper; what they were made from, where that could be had."""
        try:
            made = load_review_outputs(self.store, row.id, self.home)
            (folder / "report.html").write_text(made.report_html(blur_faces=self.blur_faces), encoding="utf-8")
            (folder / "report.pdf").write_bytes(made.report_pdf(blur_faces=self.blur_faces))
        except FormcheckError as error:
            self.missing.append(f"Review {row.id}, report: {error}")
            return None
        return made

    def _write_clip(self, row: StoredReview, made: ReviewOutputs | None, folder: Path) -> bool:
        """Copy the clip, or write it with the faces covered; never the clip itself when that was asked for."""
        clip = find_unchanged_clip(row.clip_path, row.clip_sha256)
        if clip is None:
            self.missing.append(f"Review {row.id}, clip: it is not where it was when it was reviewed.")
            return False
        try:
            if self.blur_faces:
                if made is None:
                    raise OutputError("without the body points found in the clip the head cannot be found.")
                made.write_film(folder / "clip.mp4", skeleton=False, blur_faces=True)
            else:
                ending = Path(row.clip_name).suffix.lower()
                safe = re.fullmatch(r"\.[a-z0-9]{1,5}", ending) is not None
                shutil.copyfile(clip, folder / f"clip{ending if safe else ''}")
        except FormcheckError as error:
            self.missing.append(f"Review {row.id}, clip with the face covered: {error}")
            return False
        return True


def _client_document(store: Store, client: Client, rows: list[StoredReview], at: datetime) -> dict[str, Any]:
    plans = store.plan_history(client.id)
    exercises = sorted({row.exercise_id for row in rows} | {plan.exercise_id for plan in plans})
    return {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "exported_at": at,
        "client": {"name": client.name, "notes": client.notes, "since": client.created_at},
        "plans": [
            {"exercise": one.exercise_id, "since": one.since, "plan": one.plan and str(one.plan), "remark": one.remark}
            for one in plans
        ],
        "own_limits": [
            {"exercise": exercise, "set_at": one.created_at, "changes": dump_limits(one.changes)}
            for exercise in exercises
            for one in store.limits_history(exercise, client=client.id)
        ],
        "reference_reps": [
            {"review": one.review_id, "exercise": one.exercise_id, "view": one.view, "top_s": one.rep_s}
            | {"chosen_at": one.created_at}
            for one in store.list_reference_reps(client=client.id)
        ],
        "reviews": [_review_document(store, row) for row in reversed(rows)],
    }


def _review_document(store: Store, row: StoredReview) -> dict[str, Any]:
    note = store.note_of(row.id)
    return {
        "review": row.id,
        "reviewed_at": row.created_at,
        "session": row.session_on,
        "set": row.set_number,
        "exercise": row.exercise_id,
        "variation": row.variation,
        "clip": row.clip_name,
        "seen_at": row.seen_at,
        "done_at": row.done_at,
        "note": None if note is None else asdict(note),
        "comments": [
            {"said_at": one.created_at, "voice": f"comment-{one.id}.wav" if one.has_voice else None}
            | asdict(one.comment)
            for one in store.comments_of(row.id)
        ],
        "ratings": [{"rated_at": one.created_at} | asdict(one.rating) for one in store.list_ratings(review_id=row.id)],
        "corrections": [
            {"number": one.number, "made_at": one.created_at, "undone_at": one.undone_at}
            | {"edits": json.loads(encode_edits(one.edits))}
            for one in store.revisions_of(row.id)
        ],
    }


def _sets_csv(store: Store, rows: list[StoredReview]) -> str:
    table = []
    for row in sorted(rows, key=lambda row: (row.session_on, row.exercise_id, row.set_number, row.id)):
        note = store.note_of(row.id)
        held = store.plan_of(row.client_id, row.exercise_id, on=row.session_on) if row.client_id is not None else None
        planned = get_planned_set(
            held.plan if held else None, row.set_number, SetInfo(row.load_kg, row.target_reps, row.target_each_side)
        )
        noted = (None,) * 6 if note is None else tuple(asdict(note).values())
        wanted = (None, None) if planned is None else (planned.reps_low, planned.reps_high)
        what = (row.id, row.session_on.isoformat(), row.set_number, row.exercise_id, row.variation, row.load_kg)
        counts = (row.complete_reps, row.partial_reps, row.target_reps, *wanted, row.met, row.not_met, row.undecided)
        probable = (row.probably_met, row.probably_not_met, row.too_close)
        each_side = None if planned is None else planned.each_side
        by_side = (row.left_reps, row.right_reps, row.target_each_side if row.target_reps else None)
        table.append((*what, *counts, *probable, *noted, row.by_hand, row.clip_name, each_side, *by_side))
    return write_csv(_SET_COLUMNS, table)


def _readme(client: Client | None, reviews: int, at: datetime, missing: list[str]) -> str:
    text = Path(__file__).with_name("export_readme.txt").read_text(encoding="utf-8")
    what = "Chosen reviews" if client is None else f"Everything formcheck keeps of {client.name}"
    if client is None:
        lines = text.splitlines(keepends=True)
        text = "".join(line for line in lines if not line.startswith(("client.json", "  clip", "  comment")))
    left_out = "".join(f"{line}\n" for line in ["", "Not in here:", *missing]) if missing else ""
    return text.format(what=what, at=at, reviews=reviews) + left_out


def _zip(folder: Path, target: Path) -> None:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                # films do not get smaller by packing, it only takes long
                pack = zipfile.ZIP_STORED if path.stem == "clip" else zipfile.ZIP_DEFLATED
                archive.write(path, path.relative_to(folder).as_posix(), pack)
