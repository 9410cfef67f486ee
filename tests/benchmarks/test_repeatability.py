"""The shares of a margin that scatter from rep to rep: the stored table against the command that prints it."""

import math
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
STORED = ROOT / "formcheck" / "statistics" / "repeatability.toml"


def test_the_stored_table_is_what_its_command_prints() -> None:
    """From all recordings, to the letter; made again whenever margins or measures change."""
    stored = STORED.read_text(encoding="utf-8")
    (command,) = [line for line in stored.splitlines() if "repeatability.py" in line]
    words = shlex.split(command.removeprefix("#"))[1:]
    done = subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == stored.splitlines(), f"{command.removeprefix('#').strip()} prints it anew"


def test_errors_count_in_units_of_their_own_margin_and_only_as_far_as_they_differ() -> None:
    """A margin is 1.96 standard deviations; deviations from the mean of 2, 0 and -2 in units of 1: 8 (closed form)."""
    from repeatability import _relative

    pairs = np.array([[7.0, 1.96], [5.0, 1.96], [3.0, 1.96]])
    assert _relative(pairs) == pytest.approx(8.0)
    assert math.isclose(_relative(pairs * [1.0, 2.0]), 2.0)
