"""The command in a process of its own: terminals, pipes and signals, and the real pose model over a shipped clip."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from formcheck.cli import cli
from formcheck.cli.group import SECTIONS
from formcheck.formats import decode
from tests.cli.results import count_reviews
from tests.excerpt import excerpt, smaller
from tests.facts import says


def formcheck(*arguments: object, **options: Any) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "formcheck", *(str(argument) for argument in arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, **options)


def test_help_and_version_import_nothing_slow(root: Path) -> None:
    code = (
        "import sys\nfrom formcheck.cli import cli\n"
        "cli(['--help'], standalone_mode=False)\ncli(['review', '--help'], standalone_mode=False)\n"
        "slow = {'mediapipe', 'av', 'cv2', 'numpy', 'sqlalchemy', 'alembic', 'pydantic', 'rich', 'streamlit'}\n"
        "print('slow:', sorted(slow & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert says(done.stdout, "review", "set")
    assert "--target-reps" in done.stdout
    assert done.stdout.strip().endswith("slow: []")
    assert formcheck("--version", cwd=root).stdout.startswith("formcheck 0.")


def test_lists_and_stored_reviews_load_nothing_that_only_an_analysis_needs(root: Path, formcheck_home: Path) -> None:
    code = (
        "import sys\nfrom formcheck.cli import cli\n"
        "cli(['history'], standalone_mode=False)\n"
        "slow = {'mediapipe', 'av', 'cv2', 'scipy.signal', 'scipy.stats', 'scipy.optimize', 'streamlit'}\n"
        "print('slow:', sorted(slow & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert done.stdout.strip().endswith("slow: []")


def test_a_trend_over_the_reps_of_a_usual_set_does_not_load_all_of_scipys_statistics(root: Path) -> None:
    code = (
        "import sys\nfrom formcheck.statistics.rank_trend import mann_kendall, theil_sen\n"
        "reps = [9, 8, 8, 6, 5, 5, 3]\nprint(mann_kendall(reps), theil_sen(reps, range(7)))\n"
        "print('slow:', sorted({'scipy.stats', 'scipy.optimize'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert done.stdout.strip().endswith("slow: []")


def test_the_help_lists_every_command_by_job_on_one_line() -> None:
    shown = CliRunner().invoke(cli, ["--help"], terminal_width=80).output
    for title, names in SECTIONS.items():
        assert f"\n{title}:\n" in shown
        for name in names:
            (line,) = re.findall(rf"^  {name}  .*$", shown, flags=re.M)
            assert len(line) <= 80
            assert line.endswith("."), f"{name}: its summary is longer than a line"
    for group in (command for command in cli.commands.values() if isinstance(command, click.Group)):
        shown = CliRunner().invoke(group, ["--help"], terminal_width=80).output
        for name in group.commands:
            (line,) = re.findall(rf"^  {name}  .*$", shown, flags=re.M)
            assert not line.endswith("..."), f"{group.name} {name}: its summary is longer than a line"
    listed = {name for names in SECTIONS.values() for name in names}
    assert {name for name, command in cli.commands.items() if not command.hidden} == listed


def test_the_command_needs_no_colour_no_width_and_no_utf8_terminal(root: Path, tmp_path: Path) -> None:
    bare = {"PATH": os.environ["PATH"], "PYTHONIOENCODING": "ascii", "FORMCHECK_HOME": str(tmp_path), "COLUMNS": "20"}
    done = formcheck("show", "lateral-raise", cwd=root, env=bare)
    assert (done.returncode, done.stderr) == (0, "")
    assert says(done.stdout, "Highest line of the arm", "82")
    assert "\x1b" not in done.stdout


def test_a_reader_that_goes_away_makes_no_noise(root: Path) -> None:
    pipe = subprocess.Popen(
        [sys.executable, "-m", "formcheck", "show", "lateral-raise"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=root,
    )
    assert pipe.stdout is not None
    assert pipe.stderr is not None
    pipe.stdout.close()
    assert b"Traceback" not in pipe.stderr.read()
    pipe.stderr.close()
    pipe.wait()


@pytest.mark.pose
def test_a_shipped_clip_from_the_command_to_the_report(root: Path, tmp_path: Path) -> None:
    """The real pose model over a rendered clip: the reps of its truth file, the same twice, quiet on standard error."""
    shipped, truth = shipped_clip(root)
    done_by = truth["reps"][2]["end"]
    start = excerpt(shipped, tmp_path / "start.mp4", done_by + 0.3)
    clip = smaller(start, tmp_path / "set.mp4", width=360, every=2)
    command = ["review", clip, "--exercise", truth["exercise"], "--report", tmp_path / "a.html", "--json", "-"]
    done = formcheck(*command, cwd=root)
    assert done.returncode == 0, done.stderr
    assert done.stderr.splitlines() == [f"Written: {tmp_path / 'a.html'}", "Kept as review 1 (formcheck history 1)."]
    review = decode(done.stdout)
    assert len(review.reps) == 3
    assert review.reps[-1].end_s == pytest.approx(done_by, abs=0.3)
    assert (tmp_path / "a.html").stat().st_size > 20_000
    again = formcheck(*command, cwd=root)
    assert again.stdout == done.stdout


@pytest.mark.pose
@pytest.mark.skipif(sys.platform == "win32", reason="terminals are POSIX's")
def test_a_terminal_sees_progress_with_time_left(root: Path) -> None:
    import pty

    clip, truth = shipped_clip(root)
    leader, follower = pty.openpty()
    command = [sys.executable, "-m", "formcheck", "review", str(clip), "--exercise", truth["exercise"], "--no-save"]
    worker = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=follower, cwd=root)
    os.close(follower)
    drawn = ""
    progress = re.compile(r"Looking at the clip.*[1-9]\d? % +\d+:\d\d left")
    while not progress.search(drawn):
        try:
            part = os.read(leader, 65536)
        except OSError:  # the terminal's other end is closed
            break
        if not part:
            break
        drawn += re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", part.decode(errors="replace"))
    worker.send_signal(signal.SIGTERM)
    os.close(leader)
    assert worker.communicate()[0] == b""
    assert progress.search(drawn), drawn[-2000:]


@pytest.mark.pose
@pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX's")
@pytest.mark.parametrize(("number", "codes"), [(signal.SIGINT, (130, -2)), (signal.SIGTERM, (143,))])
def test_a_stopped_command_leaves_nothing_half_done(
    root: Path, tmp_path: Path, number: int, codes: tuple[int, ...]
) -> None:
    clip, truth = shipped_clip(root)
    out = tmp_path / "out"
    out.mkdir()
    home = Path(os.environ["FORMCHECK_HOME"])
    command = [sys.executable, "-m", "formcheck", "review", str(clip), "--exercise", truth["exercise"]]
    worker = subprocess.Popen(
        [*command, "--report", str(out / "a.html")], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=root
    )
    # The store is opened just before the clip is looked at, which takes seconds.
    while not (home / "reviews.sqlite").exists() and worker.poll() is None:
        time.sleep(0.02)
    time.sleep(0.5)
    worker.send_signal(number)
    stdout, stderr = worker.communicate()
    # Stopped inside an import, Python ends itself by the signal once all is tidied up: a shell shows 130 for both.
    assert worker.returncode in codes, stderr
    assert stdout == b""
    assert stderr.decode() == ("formcheck: stopped.\n" if number == signal.SIGINT else "")
    assert list(out.iterdir()) == []
    assert count_reviews(home) == 0


def shipped_clip(root: Path) -> tuple[Path, dict[str, Any]]:
    """The first of the shipped clips, with its truth."""
    truths = sorted((root / "clips_demo").glob("*.truth.json"))
    assert truths, "the shipped clips are missing"
    truth: dict[str, Any] = json.loads(truths[0].read_text(encoding="utf-8"))
    return truths[0].with_name(truths[0].name.replace(".truth.json", ".mp4")), truth
