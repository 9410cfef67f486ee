"""Six weeks of an invented client: the load rises, is raised too far, range is lost, it is backed off, range returns.

``story.toml`` says what she does; everything formcheck shows of it comes from the analysis of the drawn landmarks.
"""

import tomllib
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from formcheck.analysis import analyse
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.core.model import ProgressReport, SetInfo
from formcheck.demo.figure import DrawnRep, record
from formcheck.exercises.registry import get_exercise
from formcheck.pose.recording import save_recording
from formcheck.pose.tracking import TRACKER_VERSION
from formcheck.storage import Store

CLIENT = "Mira Invented"
NOTES = (
    "Made up for the demo, as are her sets: the body points of a drawn stick figure, never filmed. "
    "Six weeks of lateral raises."
)
EXERCISE = "lateral-raise"
WEEKS = 6


@dataclass(frozen=True, slots=True)
class DrawnSet:
    """How one set goes: full reps, how high the first and the last go, and partial ones at the end."""

    reps: int
    first_deg: float = 93.0
    last_deg: float = 92.0
    partial: int = 0
    slower: float = 1.04
    """The last rep takes this much longer on the way up."""
    uneven_deg: float = 0.0
    """The right arm is lower by this much at the end."""

    def make_reps(self) -> tuple[DrawnRep, ...]:
        """The reps; range is lost from the middle of the set on."""
        made = []
        for index in range(self.reps):
            tired = max(0.0, (index / max(self.reps - 1, 1) - 0.4) / 0.6)
            wobble = 0.8 * ((index * 7) % 5 - 2) / 2
            made.append(
                DrawnRep(
                    self.first_deg + (self.last_deg - self.first_deg) * tired + wobble,
                    up_s=1.2 * (1 + (self.slower - 1) * tired),
                    down_s=1.9 - 0.3 * tired * (self.slower > 1.3),
                    lower_right_deg=self.uneven_deg * tired,
                )
            )
        return (*made, *(DrawnRep(45.0, up_s=1.6, down_s=1.2) for _ in range(self.partial)))


@dataclass(frozen=True, slots=True)
class Day:
    """One session."""

    after_days: int
    load_kg: float
    sets: tuple[DrawnSet, ...]
    note: SetNote
    """On the last set."""
    plan: str | None = None
    """What is planned from this day on, when it changes."""
    reason: str | None = None


_TABLE = tomllib.loads(Path(__file__).with_name("story.toml").read_text(encoding="utf-8"))
STORY = tuple(
    Day(**{**row, "sets": tuple(DrawnSet(**one) for one in row["sets"]), "note": SetNote(**row["note"])})
    for row in _TABLE["sessions"]
)


def install_story(store: Store, recordings: Path, *, today: date, on_progress: ProgressReport | None = None) -> int:
    """Put the invented client into the store and return how many sets were added; 0 when all are there already.

    Parameters
    ----------
    recordings : folder of landmark recordings, where hers are stored too, so that corrections work.
    today : the day after her last session.
    on_progress : called with the sets done and all sets before each of them.

    An installation that was stopped is taken up where it stopped. Raises StoreError and RecordingError.
    """
    exercise, first = get_exercise(EXERCISE), today - timedelta(days=STORY[-1].after_days + 1)
    if store.find_client(CLIENT) is None:
        store.add_client(CLIENT, created_at=_time_of_set(first, 0), notes=NOTES)
    plans = store.plan_history(CLIENT, EXERCISE)
    if plans:
        first = plans[0].since  # installed on another day
    known = {row.clip_sha256 for row in store.list_reviews(client=CLIENT)}
    drawn = [
        (day, first + timedelta(days=day.after_days), session, number)
        for session, day in enumerate(STORY, start=1)
        for number in range(1, len(day.sets) + 1)
    ]
    added = 0
    for done, (day, on, session, number) in enumerate(drawn):
        if number == 1 and day.plan is not None and on not in {item.since for item in plans}:
            plan = parse_plan(day.plan)
            store.set_plan(CLIENT, EXERCISE, plan, created_at=_time_of_set(on, 0), since=on, remark=day.reason)
        if on_progress is not None:
            on_progress(done, len(drawn))
        yaw_deg = (-2.0, 0.0, 1.5)[session % 3]
        reps = day.sets[number - 1].make_reps()
        recording = record(f"drawn-session-{session}-set-{number}", reps, yaw_deg=yaw_deg)
        sha, model = recording.clip.sha256, recording.pose_model.sha256
        if sha in known:
            continue
        save_recording(recording, recordings / f"{sha[:32]}-{model[:16]}-{TRACKER_VERSION}.npz")
        review = analyse(recording, exercise, set_info=SetInfo(day.load_kg, 11)).review
        at = _time_of_set(on, number)
        stored = store.save_review(review, created_at=at, client=CLIENT, session_on=on, set_number=number)
        if number == len(day.sets):
            store.save_note(stored, day.note, written_at=at)
        added += 1
    return added


def _time_of_set(day: date, number: int) -> datetime:
    return datetime.combine(day, time(17, 30 + 4 * number), tzinfo=UTC)
