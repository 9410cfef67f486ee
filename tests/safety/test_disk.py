"""A full disk and a folder that cannot be written: one sentence, nothing half-written, nothing stored is lost."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from formcheck.storage import Store
from tests.made_up_lifter import write_clip

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs fork and file size limits")

WORK = """
import json, os, sys, traceback
from pathlib import Path
import formcheck.pose.estimator
from click.testing import CliRunner
from tests.made_up_lifter import MadeUpEstimator
formcheck.pose.estimator.MediaPipeEstimator = MadeUpEstimator
from formcheck.cli import cli

def run(*words):
    done = CliRunner().invoke(cli, [str(word) for word in words], prog_name="formcheck")
    odd = done.exception is not None and not isinstance(done.exception, SystemExit)
    return {"words": [str(word) for word in words[:2]], "code": done.exit_code, "said": done.stderr.strip(),
            "trace": "".join(traceback.format_exception(*done.exc_info)) if odd else ""}

def everything(clip, out):
    return [
        run("review", clip, "--exercise", "lateral-raise", "--json", out / "r.json", "--report", out / "r.html"),
        run("review", clip, "--exercise", "lateral-raise", "--overlay", out / "o.mp4", "--no-save"),
        run("history", "1", "--csv", out / "r.csv"),
        run("client", "add", "Ada"),
        run("limits", "set", "squat", "depth", "--limit", "85"),
        run("backup", out / "new-backup.sqlite"),
        run("client", "export", "Bea", out / "bea.zip"),
        run("restore", out.parent / "backup.sqlite", "--yes"),
        run("history", "--check"),
    ]
"""

LIMITED = """
import resource
clip, out, size = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
print(json.dumps(everything(clip, out)))
"""
PLAIN = "clip, out = Path(sys.argv[1]), Path(sys.argv[2])\nprint(json.dumps(everything(clip, out)))\n"
KEPT = ["r.json", "r.html", "o.mp4", "r.csv", "new-backup.sqlite", "bea.zip"]


SETTING_UP = """
clip = Path(sys.argv[1])
for words in (("client", "add", "Bea"), ("review", clip, "--exercise", "lateral-raise", "--client", "Bea"),
              ("backup", clip.with_name("backup.sqlite"))):
    done = run(*words)
    assert done["code"] == 0, done
"""


@pytest.fixture(scope="module")
def stock(tmp_path_factory: pytest.TempPathFactory, root: Path) -> Path:
    """A folder with a clip, a data folder with a review of Bea's, and a backup of it."""
    folder = tmp_path_factory.mktemp("stock")
    clip = write_clip(folder / "set.mp4")
    surroundings = {**os.environ, "FORMCHECK_HOME": str(folder / "formcheck-home")}
    command = [sys.executable, "-c", WORK + SETTING_UP, str(clip)]
    assert subprocess.run(command, cwd=root, env=surroundings, check=False).returncode == 0
    shutil.rmtree(folder / "formcheck-home" / "recordings")  # so that the clip is looked at again
    (folder / "out").mkdir()
    return folder


@pytest.fixture
def stocked(stock: Path, tmp_path: Path, formcheck_home: Path) -> Path:
    """A copy of the stock of the test's own: the clip, with all else around it."""
    shutil.copytree(stock, tmp_path, dirs_exist_ok=True)
    return tmp_path / "set.mp4"


def check(said: str, clip: Path, home: Path) -> list[int]:
    """Every command ended well or in one sentence, what is there is whole; the exit codes."""
    results = json.loads(said)
    for result in results:
        assert not result["trace"], result["trace"]
        if result["code"]:
            assert result["code"] == 1, result
            assert result["said"].startswith("formcheck: "), result
            assert "\n" not in result["said"], result
            assert "should not have happened" not in result["said"], result
    out = clip.parent / "out"
    left = {path.name for path in out.iterdir()}
    assert left <= set(KEPT), left
    if "r.json" in left:
        json.loads((out / "r.json").read_text())
    if "r.html" in left:
        assert (out / "r.html").read_text().rstrip().endswith("</html>")
    for backup in [*out.glob("*.sqlite"), clip.with_name("backup.sqlite"), home / "reviews.sqlite"]:
        with Store.open(backup) as store:
            assert store.check() >= 1
            assert store.find_client("Bea") is not None
    assert not list(home.rglob("*.part"))
    assert not list(home.rglob(".*.tmp"))
    return [result["code"] for result in results]


@pytest.mark.parametrize("size", [0, 60_000])
def test_no_file_may_grow_beyond(stocked: Path, formcheck_home: Path, root: Path, size: int) -> None:
    command = [sys.executable, "-c", WORK + LIMITED, str(stocked), str(stocked.parent / "out"), str(size)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    codes = check(done.stdout, stocked, formcheck_home)
    assert codes.count(1) >= 2, done.stdout


def unshared(*command: str) -> list[str]:
    """A command in mount points of its own; skips where the system does not allow it."""
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-rm", "true"], capture_output=True, check=False).returncode:
        pytest.skip("this system does not let us mount anything")
    return [unshare, "-rm", *command]


def test_a_full_disk(stocked: Path, formcheck_home: Path, root: Path) -> None:
    """The data folder lies on a disk of its own that has little left."""
    script = (
        'set -e; mv "$1" "$1.there"; mkdir "$1"; mount -t tmpfs -o size=400k none "$1"; cp -r "$1.there/." "$1"; '
        'head -c 10m /dev/zero > "$1/filler" 2>/dev/null || true; '
        '"$2" -c "$3" "$4" "$5"; rm "$1/filler"; cp -r "$1/." "$1.there"; umount "$1"; rmdir "$1"; mv "$1.there" "$1"'
    )
    out = str(stocked.parent / "out")
    command = unshared("sh", "-c", script, "sh", str(formcheck_home), sys.executable, WORK + PLAIN, str(stocked), out)
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    codes = check(done.stdout, stocked, formcheck_home)
    assert codes[0] == 1
    assert "the disk is full" in done.stdout


@pytest.mark.parametrize("which", ["home", "out"])
def test_a_read_only_folder(stocked: Path, formcheck_home: Path, root: Path, which: str) -> None:
    folder = formcheck_home if which == "home" else stocked.parent / "out"
    script = 'set -e; mount --bind "$1" "$1"; mount -o remount,bind,ro "$1"; exec "$2" -c "$3" "$4" "$5"'
    out = str(stocked.parent / "out")
    command = unshared("sh", "-c", script, "sh", str(folder), sys.executable, WORK + PLAIN, str(stocked), out)
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    codes = check(done.stdout, stocked, formcheck_home)
    assert codes.count(1) >= 3, done.stdout
