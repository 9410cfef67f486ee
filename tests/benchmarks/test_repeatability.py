"""The shares of a margin that scatter from rep to rep: the stored table against the command that prints it."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
STORED = ROOT / "formcheck" / "statistics" / "repeatability.toml"


def test_errors_scatter_within_sets_as_the_stored_table_says() -> None:
    """Over every tenth tuning set: squared deviations are as large as the shares say, give or take a third.

    Shares are rounded up to a twentieth, and 26 sets are few: closer than that they need not be.
    """
    from packed_sets import packed_folder
    from repeatability import _relative, errors_of

    stored = tomllib.loads(STORED.read_text(encoding="utf-8"))
    found = told = 0.0
    for path in sorted(packed_folder("tuning").glob("*.truth.npz.xz"))[::10]:
        for name, plane, pairs in errors_of(path):
            if plane in stored.get(name, {}):
                found += _relative(pairs)
                told += stored[name][plane] ** 2 * (len(pairs) - 1)
    assert told > 50
    assert 0.5 < found / told < 1.5


def test_errors_count_in_units_of_their_own_margin_and_only_as_far_as_they_differ() -> None:
    """A margin is 1.96 standard deviations; deviations from the mean of 2, 0 and -2 in units of 1: 8 (closed form)."""
    from repeatability import _relative

    pairs = np.array([[7.0, 1.96], [5.0, 1.96], [3.0, 1.96]])
    assert _relative(pairs) == pytest.approx(8.0)
    assert math.isclose(_relative(pairs * [1.0, 2.0]), 2.0)
