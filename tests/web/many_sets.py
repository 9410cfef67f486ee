"""A store of invented sets to list: several clients, outcomes of every kind, small pictures."""

import base64
import io
import json
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from formcheck.core.model import QualityProblem
from formcheck.jobs.background_tasks import ClipSuggestion
from formcheck.jobs.queue import JobRequest, home_id
from formcheck.pose.recording import save_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from tests.web.synthetic import synthetic_analysis, synthetic_recording

CLIENTS = ("Nora Invented", "Tom Madeup", None, "Ida Fictional")
FIRST = datetime(2026, 11, 2, 17, 0, tzinfo=UTC)


def picture(shade: int) -> str:
    """A JPEG as a data address, as a still of a review."""
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (240, 340), (shade, 120, 140)).save(out, "JPEG")
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode()


def lay_clips(home: Path, amount: int) -> None:
    """Clips on the sheet, each looked at already and clear."""
    folder = DataFolder(home).clips
    folder.mkdir(parents=True, exist_ok=True)
    seen = ClipSuggestion((("lateral-raise", 0.93), ("front-raise", 0.04)), True, "front", ("arms going up",))
    with Store.open(DataFolder(home).store) as store:
        for index in range(amount):
            path = folder / f"{index + 1:064x}"
            path.write_bytes(b"not looked at any more")
            request = JobRequest(str(path), f"evening {index + 1}.mp4", "", "auto", kind="look")
            job, _ = store.add_job(home_id(home), request, 1.0)
            done = {"state": "done", "result": json.dumps(asdict(seen))}
            store.change_job(job.id, lambda job, before, done=done: done)


def fill_store(home: Path, amount: int) -> list[int]:
    """Store sets, the newest last; every fourth has nothing to change, every fifth looks like another exercise."""
    numbers = []
    with Store.open(DataFolder(home).store) as store:
        for index in range(amount):
            analysis = synthetic_analysis(f"set {index + 1}.mp4")
            review = analysis.review
            findings = tuple(item for item in review.findings if item.verdict == "met") if index % 4 == 3 else None
            if findings is not None:
                review = replace(review, findings=findings)
            if index % 5 == 4:
                problem = QualityProblem("other-exercise", {"exercise": "squat", "confidence": 0.9, "reps": 3})
                review = replace(review, quality=replace(review.quality, problems=(problem,)))
            day = FIRST + timedelta(days=index)
            number = store.save_review(
                review,
                created_at=day,
                client=CLIENTS[index % len(CLIENTS)],
                session_on=date(day.year, day.month, day.day),
            )
            drawn = DataFolder(home).artifacts(number)
            drawn.folder.mkdir(parents=True)
            drawn.report.write_text("<!DOCTYPE html>", encoding="utf-8")
            drawn.pictures_file.write_text(json.dumps({1: picture(40 + 9 * index)}), encoding="utf-8")
            save_recording(synthetic_recording(analysis), drawn.recording)
            numbers.append(number)
    return numbers
