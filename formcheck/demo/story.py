"""Six weeks of an invented client: the load rises, is raised too far, range is lost, it is backed off, range returns.

Told as what she does; everything formcheck shows of it comes from the analysis of the drawn landmarks.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from formcheck.analysis import analyse
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.core.model import SetInfo
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

    def drawn(self) -> tuple[DrawnRep, ...]:
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
    why: str | None = None


FULL = DrawnSet(11)
STORY = (
    Day(
        0, 6.0, (FULL, FULL, DrawnSet(13)), SetNote(reps_in_reserve=3, effort=6, pain=False, sleep_h=7.5),
        "3x11 @ 6 kg tempo 2-1-1-0 range 75°", "Start of the six weeks.",
    ),
    Day(4, 6.0, (FULL, FULL, DrawnSet(13)), SetNote(reps_in_reserve=3, effort=6, pain=False, sleep_h=8)),
    Day(
        9, 6.5, (FULL, FULL, FULL), SetNote(reps_in_reserve=2, effort=7, pain=False, sleep_h=7),
        "3x11 @ 6.5 kg tempo 2-1-1-0 range 75°", "Two reps over in the last set of two sessions: 8 % more.",
    ),
    Day(15, 6.5, (FULL, DrawnSet(11, last_deg=91.0), DrawnSet(12)), SetNote(reps_in_reserve=2, effort=7, pain=False)),
    Day(
        22, 7.5,
        (DrawnSet(11, last_deg=84.0, slower=1.4), DrawnSet(9, 91.0, 74.0, slower=1.6, uneven_deg=5.0),
         DrawnSet(7, 89.0, 64.0, partial=2, slower=1.8, uneven_deg=8.0)),
        SetNote(reps_in_reserve=0, effort=9.5, pain=False, sleep_h=5.5, remark="Felt too heavy after the first set."),
        "3x11 @ 7.5 kg tempo 2-1-1-0 range 75°", "A jump of 15 %: more than the rule allows.",
    ),
    Day(
        27, 7.0, (FULL, DrawnSet(11, last_deg=89.0), DrawnSet(10, 92.0, 86.0, slower=1.3)),
        SetNote(reps_in_reserve=1, effort=8, pain=False, sleep_h=7),
        "3x11 @ 7 kg tempo 2-1-1-0 range 75°", "Backed off by 7 %: range was lost.",
    ),
    Day(34, 7.0, (FULL, FULL, DrawnSet(13, last_deg=91.0)), SetNote(reps_in_reserve=2, effort=7, pain=False)),
    Day(39, 7.0, (FULL, FULL, DrawnSet(13)), SetNote(reps_in_reserve=2, effort=7, pain=False, sleep_h=8)),
)  # fmt: skip

Progress = Callable[[float, float | None], None]


def install_story(store: Store, recordings: Path, *, today: date, on_progress: Progress | None = None) -> int:
    """Put the invented client into the store and return how many sets she did; 0 when she is there already.

    Parameters
    ----------
    recordings : folder of landmark recordings, where hers are kept too, so that corrections work.
    today : the day after her last session.

    A telling that was stopped half-way is taken up where it stopped. Raises StoreError and RecordingError.
    """
    exercise = get_exercise(EXERCISE)
    first = today - timedelta(days=STORY[-1].after_days + 1)
    if store.find_client(CLIENT) is not None and (held := store.plan_history(CLIENT, EXERCISE)):
        first = held[0].since  # told on another day
    if store.find_client(CLIENT) is None:
        store.add_client(CLIENT, created_at=_moment(first, 0), notes=NOTES)
    known = {row.clip_sha256 for row in store.list_reviews(client=CLIENT)}
    planned = {item.since for item in store.plan_history(CLIENT, EXERCISE)}
    total, done, made = sum(len(day.sets) for day in STORY), 0, 0
    for number, day in enumerate(STORY, start=1):
        on = first + timedelta(days=day.after_days)
        if day.plan is not None and on not in planned:
            plan = parse_plan(day.plan)
            store.set_plan(CLIENT, EXERCISE, plan, created_at=_moment(on, 0), since=on, remark=day.why)
        for place, drawn in enumerate(day.sets, start=1):
            if on_progress is not None:
                on_progress(done, total)
            done += 1
            name, yaw = f"drawn-session-{number}-set-{place}", (-2.0, 0.0, 1.5)[number % 3]
            recording = record(name, drawn.drawn(), yaw_deg=yaw)
            if recording.clip.sha256 in known:
                continue
            sha, model = recording.clip.sha256, recording.pose_model.sha256
            save_recording(recording, recordings / f"{sha[:32]}-{model[:16]}-{TRACKER_VERSION}.npz")
            review = analyse(recording, exercise, set_info=SetInfo(day.load_kg, 11)).review
            at = _moment(on, place)
            kept = store.save_review(review, created_at=at, client=CLIENT, session_on=on, set_number=place)
            if place == len(day.sets):
                store.save_note(kept, day.note, written_at=at)
            made += 1
    return made


def _moment(day: date, place: int) -> datetime:
    return datetime.combine(day, time(17, 30 + 4 * place), tzinfo=UTC)
