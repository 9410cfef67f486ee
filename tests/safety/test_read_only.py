"""A data folder where nothing can be written, such as a backup mounted for reading, can still be read.

The folder is mounted for reading in a mount namespace of the child's own, since modes do not stop root. Where that is
not allowed, the child is another user (nobody), or, for a user who is not root, the folder's modes are taken away.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from formcheck.coaching.plan import parse_plan
from formcheck.formats import decode
from formcheck.storage import Store
from tests.storage.conftest import DATA, NOON

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs Linux's mounts")

Read = Callable[..., subprocess.CompletedProcess[str]]
MOUNT = 'mount --bind "$1" "$1" && mount -o remount,bind,ro "$1" && shift && exec "$@"'


def namespace() -> list[str] | None:
    """The start of a command that runs another with a folder mounted for reading; None where it cannot be had."""
    for unshare in (["unshare", "--mount"], ["unshare", "--user", "--map-root-user", "--mount"]):
        if shutil.which("unshare"):
            trial = [*unshare, "sh", "-c", MOUNT, "sh", "/tmp", "true"]
            if subprocess.run(trial, capture_output=True, check=False).returncode == 0:
                return [*unshare, "sh", "-c", MOUNT, "sh"]
    return None


@pytest.fixture
def home(formcheck_home: Path) -> Path:
    review = decode((DATA / "review_v1.json").read_bytes())
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        for _ in range(2):
            store.save_review(review, created_at=NOON, client="Ada")
        store.set_plan("Ada", review.exercise.id, parse_plan("4x9"), created_at=NOON)
    return formcheck_home


@pytest.fixture
def read(formcheck_home: Path, root: Path) -> Read:
    """Runs formcheck where the data folder can only be read."""
    mounted = namespace()

    def call(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "formcheck", *words]
        options: dict[str, int] = {}
        if mounted is not None:
            command = [*mounted, str(formcheck_home), *command]
        else:
            for path in (formcheck_home, *formcheck_home.iterdir()):
                path.chmod(0o555 if path.is_dir() else 0o444)
            if os.geteuid() == 0:
                options = {"user": 65534}
        return subprocess.run(command, cwd=root, capture_output=True, text=True, check=False, **options)

    return call


def listing(home: Path) -> list[tuple[str, bytes]]:
    return [(str(path), path.read_bytes() if path.is_file() else b"") for path in sorted(home.rglob("*"))]


READING = [
    ("history",),
    ("history", "1"),
    ("history", "1", "--json", "-"),
    ("history", "--check"),
    ("history", "--client", "Ada"),
    ("client", "list"),
    ("client", "show", "Ada"),
    ("plan", "show", "Ada"),
    ("limits", "show", "lateral-raise"),
    ("correct", "1"),
    ("compare", "1", "2"),
    ("progress", "Ada", "--exercise", "lateral-raise"),
]


@pytest.mark.parametrize("words", READING, ids=" ".join)
def test_what_reads_works_and_leaves_nothing(read: Read, home: Path, words: tuple[str, ...], root: Path) -> None:
    command = [sys.executable, "-m", "formcheck", *words]
    there = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    before = listing(home)
    assert there.returncode == 0, there.stderr
    done = read(*words)
    assert "Traceback" not in done.stderr
    assert (done.returncode, done.stdout, done.stderr) == (there.returncode, there.stdout, there.stderr)
    assert listing(home) == before


def test_a_backup_is_made_of_it(read: Read, home: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    out.chmod(0o777)
    done = read("backup", str(out / "b.sqlite"))
    assert done.returncode == 0, done.stderr
    with Store.open(out / "b.sqlite") as copy:
        assert copy.check() == 2


@pytest.mark.parametrize(
    "words",
    [("client", "add", "Bea"), ("history", "1", "--delete"), ("plan", "set", "Ada", "lateral-raise", "3x11")],
    ids=" ".join,
)
def test_what_writes_says_so_in_a_sentence(read: Read, home: Path, words: tuple[str, ...]) -> None:
    before = listing(home)
    done = read(*words)
    assert done.returncode == 1
    assert "read-only" in done.stderr.lower()
    assert len(done.stderr.strip().splitlines()) == 1
    assert listing(home) == before


def test_what_a_crash_left_in_the_log_is_read_too(read: Read, home: Path) -> None:
    """SQLite keeps committed rows in the write-ahead log until it is folded into the file (sqlite.org/wal.html)."""
    path = home / "reviews.sqlite"
    review = decode((DATA / "review_v1.json").read_bytes())
    with Store.open(path) as store:
        store.save_review(review, created_at=NOON, client="In the log")
        assert path.with_name("reviews.sqlite-wal").stat().st_size > 0
        done = read("history")
    assert done.returncode == 0, done.stderr
    assert "In the log" in done.stdout


def test_an_older_store_says_that_it_cannot_be_brought_up_to_date(read: Read, home: Path) -> None:
    import sqlite3
    from contextlib import closing

    for ending in ("", "-wal", "-shm"):
        (home / f"reviews.sqlite{ending}").unlink(missing_ok=True)
    with closing(sqlite3.connect(home / "reviews.sqlite")) as raw:
        raw.executescript((DATA / "store_0002.sql").read_text(encoding="utf-8"))
        raw.commit()
    before = listing(home)
    done = read("history")
    assert done.returncode == 1
    assert "earlier formcheck" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert listing(home) == before
