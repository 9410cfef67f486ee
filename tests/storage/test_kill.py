"""Kill -9 before each statement of every change, and of bringing an old store up to date: nothing told is lost."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.storage.conftest import DATA

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")

HEAD = """
import json, os, shutil, signal, sqlite3, sys
from datetime import UTC, date, datetime
from pathlib import Path
import alembic.command, alembic.config, alembic.script
from sqlalchemy import event
from sqlalchemy.engine import Engine
from formcheck.formats import decode
from formcheck.exercises.limits import read_limits
from formcheck.reps.edits import Edits, leave_out
from formcheck.storage import Store
from formcheck.storage.jobs import JobRequest
from formcheck.coaching.comment import CoachComment, clean_voice
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.coaching.rating import Rating
from tests.statistics.sets import in_turn
from tests.storage.voice import spoken

voice = clean_voice(spoken())
folder, data = Path(sys.argv[1]), Path(sys.argv[2])
review = decode((data / "review_v1.json").read_bytes())
NOON, EARLIER = datetime(2026, 3, 1, 12, tzinfo=UTC), datetime(2026, 2, 1, 12, tzinfo=UTC)

def in_child(work, kill_at):
    '''What the child told before it was killed, and whether it was.'''
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        statements = 0
        def step(*_):
            nonlocal statements
            statements += 1
            if statements == kill_at:
                os.kill(os.getpid(), signal.SIGKILL)
        event.listen(Engine, "before_cursor_execute", step)
        event.listen(Engine, "commit", step)
        work(lambda text: os.write(writing, (text + chr(10)).encode()))
        os._exit(0)
    os.close(writing)
    told = b""
    while part := os.read(reading, 4096):
        told += part
    os.close(reading)
    return told.decode().split(), os.WIFSIGNALED(os.waitpid(child, 0)[1])
"""

CHANGING = """
CHANGES = {
    "client": (lambda s: s.add_client("Ada", created_at=NOON), lambda s: s.find_client("Ada") is not None),
    "review": (lambda s: s.save_review(review, created_at=NOON, client="Bea"),
               lambda s: s.find_client("Bea") is not None and s.load_original(1) == review),
    "note": (lambda s: s.save_note(1, SetNote(effort=7), written_at=NOON), lambda s: s.note_of(1) == SetNote(effort=7)),
    "comment": (lambda s: s.add_comment(1, CoachComment("Look here.", 1.5, (((1.0, 2.0), (3.0, 4.0)),)), voice=voice,
                                        created_at=NOON),
                lambda s: s.voice_of(1) == voice and s.comments_of(1)[0].comment.strokes),
    "rated": (lambda s: s.save_rating(1, Rating("depth", "met", False, "too high"), created_at=NOON),
              lambda s: [item.why for item in s.ratings_of(1)] in (["too high"], [None])),
    "rerated": (lambda s: s.save_rating(1, Rating("depth", "met", True), created_at=NOON),
                        lambda s: [item.agrees for item in s.ratings_of(1)][-1:] == [True]),
    "reference": (lambda s: s.set_reference_rep(1, 2.5, created_at=NOON),
                  lambda s: [item.rep_s for item in s.list_reference_reps()] in ([2.5], [4.5])),
    "rereferenced": (lambda s: s.set_reference_rep(1, 4.5, created_at=NOON),
                        lambda s: [item.rep_s for item in s.list_reference_reps()] == [4.5]),
    "plan": (lambda s: s.set_plan("Ada", "squat", parse_plan("4x9"), created_at=NOON),
             lambda s: len(s.plan_history("Ada")) == 1),
    "limits": (lambda s: s.set_limits("squat", read_limits({"depth": {"limit": 85.0}}), created_at=NOON),
               lambda s: len(s.limits_history("squat")) >= 1),
    "restored": (lambda s: s.restore_limits(1, created_at=NOON), lambda s: len(s.limits_history("squat")) == 2),
    "corrected": (lambda s: s.save_revision(1, leave_out(Edits(), 0, 1), review, created_at=NOON),
                  lambda s: len(s.revisions_of(1)) == 1),
    "undone": (lambda s: s.undo_revision(1, undone_at=NOON),
               lambda s: not s.edits_of(1) and not s.list_reviews()[0].by_hand),
    "assigned": (lambda s: s.change_review(1, session_on=date(2026, 1, 1), changed_at=NOON),
                 lambda s: s.list_reviews()[0].session_on == date(2026, 1, 1)),
    "renamed": (lambda s: s.change_client("Ada", notes="n"), lambda s: s.get_client("Ada").notes == "n"),
    "marked": (lambda s: s.mark_reviews([1], seen_at=NOON, done_at=NOON),
               lambda s: s.list_reviews(review_id=1)[0].seen_at == s.list_reviews(review_id=1)[0].done_at == NOON),
    "asked": (lambda s: s.add_job("home", JobRequest("clip", "set.mp4", "squat", "auto"), 1.0),
              lambda s: s.jobs_in_line("home")[0].request.same_set is False),
    "answered": (lambda s: s.add_job("home", JobRequest("clip", "set.mp4", "squat", "auto", second_path="b",
                                                        second_name="b.mp4", same_set=True), 2.0),
                 lambda s: [job.request.same_set for job in s.list_jobs("home")].count(True) == 1),
    "claimed": (lambda s: s.change_job(1, lambda job, before: {"claim": "mine"}),
                lambda s: s.list_jobs()[-1].claim == "mine"),
    "saved": (lambda s: s.save_review(review, created_at=EARLIER, job=s.list_jobs()[-1]),
              lambda s: s.load_original(s.list_jobs()[-1].status.review_id) == review),
    "in-turn": (lambda s: s.save_review(in_turn("LRLRL"), created_at=EARLIER),
                lambda s: s.list_reviews(review_id=3)[0].reps in ("3 left, 2 right", "2 left, 1 right")),
    "recounted": (lambda s: s.save_revision(3, leave_out(Edits(), 0, 1), in_turn("LRL"), created_at=NOON),
                     lambda s: s.list_reviews(review_id=3)[0].reps == "2 left, 1 right"),
}
with Store.open(folder / "empty.sqlite") as empty:
    pass

def work_on(path):
    def work(tell):
        with Store.open(path) as store:
            for name, (change, _) in CHANGES.items():
                change(store)
                tell(name)
    return work

deaths, moment = [], 1
while True:
    path = folder / f"{moment}.sqlite"
    shutil.copyfile(folder / "empty.sqlite", path)
    told, killed = in_child(work_on(path), moment)
    with Store.open(path) as store:
        store.check()
        lost = [name for name in told if not CHANGES[name][1](store)]
        known = [job.status.review_id for job in store.list_jobs()]
        if store.count_reviews() >= 2 and 2 not in known:
            lost.append("which job the review is of")
    deaths.append({"killed": killed, "told": len(told), "lost": lost})
    if not killed:
        break
    moment += 1
print(json.dumps(deaths))
"""

MIGRATING = """
old = folder / "old.sqlite"
raw = sqlite3.connect(old)
raw.executescript((data / "store_0001.sql").read_text(encoding="utf-8"))
raw.commit()
raw.close()
deaths, moment = [], 1
while True:
    path = folder / f"{moment}.sqlite"
    shutil.copyfile(old, path)
    def work(tell):
        with Store.open(path):
            tell("open")
    told, killed = in_child(work, moment)
    with Store.open(path) as store:
        deaths.append({"killed": killed, "found": store.check(), "clients": len(store.list_clients()),
                       "next": store.save_review(review, created_at=NOON)})
    if not killed:
        break
    moment += 2
print(json.dumps(deaths))
"""

COUNTING = """
raw = sqlite3.connect(folder / "old.sqlite")
raw.executescript((data / "store_0011.sql").read_text(encoding="utf-8"))
raw.commit()
raw.close()
deaths, moment = [], 1
while True:
    path = folder / f"{moment}.sqlite"
    shutil.copyfile(folder / "old.sqlite", path)
    def work(tell):
        with Store.open(path):
            tell("open")
    told, killed = in_child(work, moment)
    with Store.open(path) as store:
        deaths.append({"killed": killed, "found": store.check(), "reps": [row.reps for row in store.list_reviews()],
                       "answers": [job.request.same_set for job in store.list_jobs("home")]})
    if not killed:
        break
    moment += 1
print(json.dumps(deaths))
"""


def deaths_of(script: str, folder: Path, root: Path) -> list[dict[str, object]]:
    command = [sys.executable, "-c", HEAD + script, folder, DATA]
    done = subprocess.run(command, capture_output=True, text=True, cwd=root, check=False)
    assert done.returncode == 0, done.stderr
    deaths: list[dict[str, object]] = json.loads(done.stdout)
    return deaths


def test_killed_before_each_statement_of_every_change(tmp_path: Path, root: Path) -> None:
    *deaths, last = deaths_of(CHANGING, tmp_path, root)
    assert len(deaths) > 30
    assert all(death["killed"] for death in deaths)
    assert [death["lost"] for death in (*deaths, last)] == [[]] * (len(deaths) + 1)
    assert {death["told"] for death in deaths} == set(range(22))  # somebody died in each change
    assert last == {"killed": False, "told": 22, "lost": []}


def test_killed_while_counts_a_side_are_read_from_old_reviews(tmp_path: Path, root: Path) -> None:
    *deaths, last = deaths_of(COUNTING, tmp_path, root)
    assert len(deaths) > 5
    assert all(death["killed"] for death in deaths)
    for death in (*deaths, last):
        assert (death["found"], death["reps"]) == (3, ["3 left", "3", "2 left, 2 right"])
        assert death["answers"] == [True]


def test_killed_while_an_old_store_is_brought_up_to_date(tmp_path: Path, root: Path) -> None:
    *deaths, last = deaths_of(MIGRATING, tmp_path, root)
    assert len(deaths) > 15
    assert all(death["killed"] for death in deaths)
    for death in (*deaths, last):
        # Six reviews and two clients were in it; number 7 was deleted long ago and is not given again.
        assert (death["found"], death["clients"], death["next"]) == (6, 2, 8)
