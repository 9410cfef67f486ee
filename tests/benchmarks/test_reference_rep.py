"""Margins of a difference between two recordings, from errors that are known because they are invented here."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from formcheck.statistics.reference_rep import OF_SET, get_difference_share
from tests.benchmarks.test_rendered_sets import documents

MARGIN = 8.0


def row(pair: str, error: float, measure: str = "arm_line_raise_peak", unit: str = "deg", true: float = 0.0) -> Any:
    from reference_rep import Row

    return Row(pair, 1, measure, "frontal", unit, error, true, MARGIN, (error,))


def make_rows(scale: float, pairs: int, seed: int = 1) -> Sequence[Any]:
    errors = np.random.default_rng(seed).normal(0.0, scale, pairs)
    return [row(str(number), float(error)) for number, error in enumerate(errors)]


def test_the_share_is_that_of_the_errors() -> None:
    """Errors of standard deviation s among margins m ask for the share 1.96·s/m of a normal distribution."""
    from reference_rep import fit_shares

    shares = fit_shares(make_rows(2.0, 2000))
    for key in ("frontal", "frontal" + OF_SET):
        assert shares["arm_line_raise_peak", key] == pytest.approx(1.96 * 2.0 / MARGIN, rel=0.05)


def test_few_pairs_ask_for_more_and_are_drawn_towards_their_unit() -> None:
    from reference_rep import find_share, fit_shares

    many = [*make_rows(4.0, 500), *(row("a", 1.0, "knee_flexion_min"), row("b", -1.0, "knee_flexion_min"))]
    shares = fit_shares(many)
    alone = 1.96 * 1.0 / MARGIN
    assert alone < shares["knee_flexion_min", "frontal"] < shares["arm_line_raise_peak", "frontal"]
    single = row("c", 1.0, "torso_inclination_max")
    assert ("torso_inclination_max", "frontal") not in fit_shares([*many, single])
    assert find_share(shares, single, of_set=False) == shares["deg", "frontal"]


def test_every_pair_counts_once() -> None:
    from reference_rep import fit_shares

    once = [row("a", 3.0), row("b", 0.0), row("c", 0.0)]
    often = [*[row("a", 3.0)] * 50, row("b", 0.0), row("c", 0.0)]
    assert fit_shares(once) == pytest.approx(fit_shares(often))


def test_alarms_and_findings_of_invented_errors() -> None:
    """With errors of 2 degrees and 3 % of alarms 90 of 100 are told from 2·(2.17 + 1.28) = 6.9 degrees on."""
    from reference_rep import found_lines

    lines = found_lines(make_rows(2.0, 200))
    alarms = float(lines[0].rpartition(":")[2].split("%")[0])
    assert 0 < alarms <= 6
    (of_angle,) = [line for line in lines if line.startswith("arm_line_raise_peak")]
    assert of_angle.split()[-1] == "8°"


def test_what_is_told_is_told_for_all_angles_together() -> None:
    from reference_rep import tell

    rows = [row("a", 0.0), row("a", 0.0, "knee_flexion_min")]
    shares = {("deg", "frontal" + OF_SET): 0.5}  # a margin of 4 degrees
    assert tell(rows, shares, [4.2, 0.0]) == [False, False]
    assert tell(rows, shares, [6.0, 0.0]) == [True, False]


def test_the_shipped_table_is_read_as_it_is_written() -> None:
    from reference_rep import toml_lines

    assert toml_lines({("deg", "frontal"): 0.401, ("arm_line_raise_peak", "frontal"): 1.7}) == [
        "[deg]", "frontal = 0.45", "[arm_line_raise_peak]", "frontal = 1.00",
    ]  # fmt: skip
    for of_set in (False, True):
        listed = get_difference_share("arm_line_raise_peak", "deg", "frontal", of_set=of_set)
        assert 0.2 < listed < 0.8
        unknown = get_difference_share("no_such_measure", "deg", "frontal", of_set=of_set)
        assert unknown == get_difference_share("deg", "deg", "frontal", of_set=of_set)
        assert get_difference_share("arm_line_raise_peak", "deg", "oblique", of_set=of_set) == 1.0


def test_lifters_filmed_again_are_the_same_and_the_camera_stands_about_where_it_stood() -> None:
    first = {one["number"]: one for one in documents("tuning").values()}
    again = documents("repeats").values()
    assert len(again) == 52
    for one in again:
        before = first[one["repeats"]]
        assert (one["body"], one["exercise"]) == (before["body"], before["exercise"])
        assert one["look"] != before["look"]
        turned = (one["camera"]["yaw"] - before["camera"]["yaw"] + 180) % 360 - 180
        assert abs(turned) <= 8.0
        assert abs(one["camera"]["height"] - before["camera"]["height"]) <= 0.2 + 1e-9
        assert not one["faults"]
