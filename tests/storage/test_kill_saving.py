"""Kill -9 at any moment: the store opens, passes its check, and every acknowledged review is whole."""

import json
import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from formcheck.formats import decode
from formcheck.storage import Store
from tests.storage.conftest import DATA

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")
SAMPLE = DATA / "review_v1.json"

SAVING = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from formcheck.formats import decode
from formcheck.storage import Store
review = decode(Path(sys.argv[2]).read_bytes())
print("ready", flush=True)
with Store.open(sys.argv[1]) as store:
    while True:
        print(store.save_review(review, created_at=datetime.now(UTC)), flush=True)
"""


def test_acknowledged_reviews_survive_kills_at_random_moments(tmp_path: Path, root: Path) -> None:
    path = tmp_path / "reviews.sqlite"
    review = decode(SAMPLE.read_bytes())
    moments = random.Random(20260301)
    acknowledged: set[int] = set()
    kills = 0
    while kills < 9:
        # Three writers at once; in the first round all of them make the store.
        command = [sys.executable, "-c", SAVING, str(path), str(SAMPLE)]
        writers = [subprocess.Popen(command, stdout=subprocess.PIPE, cwd=root) for _ in range(3)]
        for writer in writers:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"ready\n"
        for writer in writers:
            time.sleep(moments.uniform(0, 0.15))
            writer.kill()
            kills += 1
        for writer in writers:
            # A last line without its end was cut by the kill: never acknowledged.
            told = writer.communicate()[0].decode()
            acknowledged.update(int(line) for line in told.splitlines(keepends=True) if line.endswith("\n"))
        with Store.open(path) as store:
            assert store.check() >= len(acknowledged)
            assert acknowledged <= {row.id for row in store.list_reviews()}
    assert len(acknowledged) > 5
    with Store.open(path) as store:
        for number in acknowledged:
            assert store.load_review(number) == review


DYING = """
import json, os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
import alembic.command, alembic.config, alembic.script
from sqlalchemy import event
from sqlalchemy.engine import Engine
from formcheck.formats import decode
from formcheck.storage import Store

folder, review = Path(sys.argv[1]), decode(Path(sys.argv[2]).read_bytes())
statements = 0

def count(kill_at):
    def step(*_):
        global statements
        statements += 1
        if statements == kill_at:
            os.kill(os.getpid(), signal.SIGKILL)
    event.listen(Engine, "before_cursor_execute", step)
    event.listen(Engine, "commit", step)

deaths, moment = [], 1
while True:
    path = folder / f"{moment}.sqlite"
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        count(moment)
        with Store.open(path) as store:
            number = store.save_review(review, created_at=datetime.now(UTC))
            os.write(writing, b"saved")
        os._exit(0)
    os.close(writing)
    told = os.read(reading, 10) == b"saved"
    os.close(reading)
    killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
    with Store.open(path) as store:
        found = store.check()
        again = store.save_review(review, created_at=datetime.now(UTC))
        store.load_review(again)
    deaths.append({"killed": killed, "told": told, "found": found})
    if not killed:
        break
    moment += 1
print(json.dumps(deaths))
"""


def test_killed_before_each_statement_of_making_a_store_and_saving(tmp_path: Path, root: Path) -> None:
    """Every step between nothing and the first saved review, one death a step."""
    done = subprocess.run(
        [sys.executable, "-c", DYING, tmp_path, SAMPLE], capture_output=True, text=True, cwd=root, check=False
    )
    assert done.returncode == 0, done.stderr
    *deaths, last = json.loads(done.stdout)
    assert len(deaths) > 12
    assert all(death["killed"] for death in deaths)
    assert all(death["found"] == int(death["told"]) for death in deaths)
    assert last == {"killed": False, "told": True, "found": 1}


OPENING = """
import sys
from formcheck.storage import Store
sys.stdin.readline()
with Store.open(sys.argv[1]) as store:
    print(store.check())
"""


def test_many_programs_may_make_the_same_store_at_once(tmp_path: Path, root: Path) -> None:
    command = [sys.executable, "-c", OPENING, str(tmp_path / "reviews.sqlite")]
    openers = [
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=root)
        for _ in range(6)
    ]
    time.sleep(1)  # so that all wait at the gate; without it they only meet less closely
    for opener in openers:
        assert opener.stdin is not None
        opener.stdin.write(b"go\n")
        opener.stdin.flush()
    for opener in openers:
        out, err = opener.communicate()
        assert (out, opener.returncode) == (b"0\n", 0), err.decode()
