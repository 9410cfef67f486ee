"""A short run of the kills at random moments: every kind of work once, and nothing lost."""

import os
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")
def test_a_short_run_loses_nothing(root: Path) -> None:
    command = [sys.executable, str(root / "tools" / "benchmarks" / "kills.py"), "--kills", "10", "--seed", "3"]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    *kinds, _, last = done.stdout.splitlines()
    assert [line.split()[0] for line in kinds] == [
        "reviews",
        "batches",
        "watched",
        "limits",
        "comments",
        "films",
        "deletions",
        "imports",
        "backups",
        "migrations",
        "page",
    ]
    assert last.endswith(", 0 problems")
