"""Whatever the umask, what formcheck keeps is readable for its user alone.

Modes 0700 for folders and 0600 for files: the XDG Base Directory Specification asks 0700 of folders for data, OpenSSH
0600 of files that hold secrets.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from formcheck.core.private_files import make_private
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home
from tests.made_up_lifter import write_clip

pytestmark = pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")

WORK = """
import asyncio, os, sys, time
from pathlib import Path
os.umask(0)
import formcheck.pose.estimator
from tests.made_up_lifter import MadeUpEstimator
formcheck.pose.estimator.MediaPipeEstimator = MadeUpEstimator
from formcheck.cli import main
clip, out = Path(sys.argv[1]), Path(sys.argv[2])
for words in (
    ["review", clip, "--exercise", "lateral-raise", "--client", "Bea", "--json", out / "r.json", "--report",
     out / "r.html", "--pdf", out / "r.pdf", "--overlay", out / "o.mp4"],
    ["history", "1", "--csv", out / "r.csv"],
    ["backup", out / "backup.sqlite"],
    ["client", "export", "Bea", out / "bea"],
    ["client", "export", "Bea", out / "bea.zip"],
    ["restore", out / "backup.sqlite", "--yes"],
):
    os.umask(0)
    sys.argv = ["formcheck", *map(str, words)]
    try:
        main()
    except SystemExit as end:
        assert end.code in (0, None), words
os.umask(0)
from formcheck.web import server
from formcheck.jobs.queue import JobRequest, find_job, start_job
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home, default_store
async def page():
    async with server.lifespan(None):
        job = start_job(JobRequest(str(clip.with_name("gone.mp4")), "gone.mp4", "", "auto", kind="look"))
        for _ in range(600):
            if find_job(job).status.over:
                break
            await asyncio.sleep(0.2)
asyncio.run(page())
os.umask(0)
with Store.open(default_store()) as store:
    store.add_client("Ada", created_at=__import__("datetime").datetime.now().astimezone())
    for folder in (data_home(), out):
        for path in sorted([folder, *folder.rglob("*")]):
            print(oct(path.stat().st_mode & 0o777), "folder" if path.is_dir() else "file", path)
"""


def test_everything_that_is_kept_is_for_the_user_alone(formcheck_home: Path, tmp_path: Path, root: Path) -> None:
    formcheck_home.rmdir()
    clip, out = write_clip(tmp_path / "set.mp4"), tmp_path / "out"
    out.mkdir(mode=0o700)
    done = subprocess.run(
        [sys.executable, "-c", WORK, clip, out], cwd=root, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    rows = [line.split(" ", 2) for line in done.stdout.splitlines() if line.startswith("0o")]
    names = " ".join(name for _, _, name in rows)
    for part in (
        "reviews.sqlite-wal",
        "reviews.sqlite-shm",
        "before-restore",
        "recordings/",
        "worker.log",
        "queue-id",
        "backup.sqlite",
        "bea.zip",
        "bea/client.json",
        "r.html",
        "r.pdf",
        "o.mp4",
    ):
        assert part in names, part
    wrong = [row for row in rows if row[0] != ("0o700" if row[1] == "folder" else "0o600")]
    assert not wrong


def test_what_is_there_already_is_closed_when_it_is_opened(formcheck_home: Path) -> None:
    with Store.open(data_home() / "reviews.sqlite"):
        pass
    inside = formcheck_home / "recordings"
    inside.mkdir()
    (inside / "a.npz").touch()
    script = inside / "run.sh"
    script.touch()
    for path, mode in ((formcheck_home, 0o755), (inside, 0o775), (inside / "a.npz", 0o644), (script, 0o755)):
        path.chmod(mode)
    (formcheck_home / "reviews.sqlite").chmod(0o666)
    assert data_home() == formcheck_home
    modes = [path.stat().st_mode & 0o777 for path in (formcheck_home, inside, inside / "a.npz", script)]
    assert modes == [0o700, 0o700, 0o600, 0o700]
    assert (formcheck_home / "reviews.sqlite").stat().st_mode & 0o777 == 0o600


def test_a_store_elsewhere_is_closed_and_its_folder_left_alone(tmp_path: Path) -> None:
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o755)
    before = os.umask(0)
    try:
        with Store.open(shared / "s.sqlite") as store:
            assert store.count_reviews() == 0
            assert {item.stat().st_mode & 0o777 for item in shared.iterdir()} == {0o600}
            assert len(list(shared.iterdir())) == 3  # the store, its log, the log's index
        (shared / "s.sqlite").chmod(0o644)
        with Store.open(shared / "s.sqlite"):
            assert (shared / "s.sqlite").stat().st_mode & 0o777 == 0o600
    finally:
        os.umask(before)
    assert shared.stat().st_mode & 0o777 == 0o755


def test_folders_that_users_share_by_design_are_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The restricted deletion flag of folders such as /tmp: chmod(1)."""
    shared, target = tmp_path / "tmp", tmp_path / "target"
    shared.mkdir()
    shared.chmod(0o1777)
    target.touch(mode=0o644)
    target.chmod(0o644)
    (tmp_path / "link").symlink_to(target)
    monkeypatch.setenv("HOME", str(tmp_path))
    tmp_path.chmod(0o755)
    assert not make_private(shared)
    assert not make_private(tmp_path)
    assert not make_private(tmp_path / "link")
    assert not make_private(tmp_path / "nothing")
    assert target.stat().st_mode & 0o777 == 0o644
