"""How margins are fitted to the rendered sets: the widths hold what they should, and few sets say so."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from formcheck.core.model import CameraView, Quality

VIEW = CameraView("front", 0.0, 8.0, "estimated")
TURNED = CameraView("front", 20.0, 8.0, "estimated")
QUALITY = Quality(1.0, 30.0, 800.0, {}, {}, (), None)


def row(error: float, set_name: str = "1", build: str = "usual", measure: str = "torso_inclination_mean") -> Any:
    from rendered_sets import Row

    return Row(set_name, "squat", build, "near", measure, "front", 1, error, 20.0, 5.0, VIEW, QUALITY)


def test_a_width_holds_95_of_100_equal_sets() -> None:
    """Errors 1, 2, ... 100: 95 hold 95 of them."""
    from fit_pooled_margins import fit_width, holds

    rows = [row(float(error), str(error)) for error in range(1, 101)]
    width = fit_width(rows, {}, "frontal")
    assert width == 95.0
    assert sum(holds(one, {}, "frontal", 95.0) for one in rows) == 95


def test_every_set_counts_alike_however_many_reps_it_has() -> None:
    from fit_pooled_margins import set_weights

    rows = [row(1.0, "long") for _ in range(10)] + [row(2.0, "short") for _ in range(2)]
    weights = np.array(set_weights(rows))
    assert weights[:10].sum() == pytest.approx(1.0)
    assert weights[10:].sum() == pytest.approx(1.0)


def test_few_sets_are_pooled_with_the_plane_next_to_theirs() -> None:
    from fit_pooled_margins import ENOUGH, pooled

    few = [row(1.0, str(number)) for number in range(3)]
    many = [row(2.0, f"f{number}") for number in range(ENOUGH)]
    groups = {("m", "behind"): few, ("m", "frontal"): many}
    assert len(pooled(groups, "m", "behind")) == len(few) + len(many)
    assert pooled(groups, "m", "frontal") == many


def test_a_build_that_reads_otherwise_is_not_held_by_the_others() -> None:
    from fit_pooled_margins import kept_out

    alike = [row(1.0, f"{build}{n}", build) for build in ("a", "b") for n in range(10)]
    other = [row(9.0, f"c{n}", "c") for n in range(10)]
    both = {("m", "frontal"): [*alike, *other]}
    assert kept_out({("m", "frontal"): alike}, "m", "frontal", {}) == {"a": [True] * 10, "b": [True] * 10}
    assert kept_out(both, "m", "frontal", {})["c"] == [False] * 10
    assert kept_out({("m", "frontal"): other}, "m", "frontal", {}) == {}


def test_a_row_is_never_below_what_its_own_few_sets_ask_for() -> None:
    from fit_pooled_margins import ENOUGH, fit_row

    few = [row(9.0, str(number)) for number in range(3)]
    many = [row(1.0, f"f{number}") for number in range(2 * ENOUGH)]
    groups = {("m", "behind"): few, ("m", "frontal"): many}
    frontal, behind = (fit_row(groups, "m", key, {}) for key in ("frontal", "behind"))
    assert (frontal.width, frontal.sets) == (1.0, 2 * ENOUGH)
    assert (behind.width, behind.sets) == (9.0, 2 * ENOUGH + 3)


def test_an_analogy_is_wider_than_what_its_few_sets_show() -> None:
    from fit_pooled_margins import FEW_SETS, fit_row

    fit = fit_row({("m", "behind"): [row(5.0, str(number)) for number in range(3)]}, "m", "behind", {})
    assert (fit.width, fit.wider) == (5.0 * FEW_SETS, FEW_SETS)


def test_a_row_is_widened_until_builds_kept_out_are_held() -> None:
    """One build errs by 9, the others by 7: 1.25 times 7 does not hold it, 1.3 times does."""
    from fit_pooled_margins import COVERED, fit_row

    alike = [row(7.0, f"{build}{n}", build) for build in ("a", "b") for n in range(15)]
    other = [row(9.0, f"c{n}", "c") for n in range(10)]
    fit = fit_row({("m", "frontal"): [*alike, *other]}, "m", "frontal", {})
    assert fit.wider == pytest.approx(1.3)
    assert fit.held >= COVERED
    assert fit.width == pytest.approx(9.0 * 1.3, abs=1.0)


def test_a_row_of_few_sets_is_not_widened_for_builds_kept_out() -> None:
    from fit_pooled_margins import FEW_SETS, fit_row

    alike = [row(7.0, f"{build}{n}", build) for build in ("a", "b") for n in range(8)]
    other = [row(9.0, f"c{n}", "c") for n in range(8)]
    fit = fit_row({("m", "frontal"): [*alike, *other]}, "m", "frontal", {})
    assert (fit.sets, fit.wider) == (24, FEW_SETS)


def test_pairs_count_only_straight_from_behind() -> None:
    from fit_pooled_margins import counts_for

    assert counts_for("tuning", "frontal")
    assert counts_for("pairs", "behind_out_of_plane")
    assert not counts_for("pairs", "frontal")
    assert counts_for("tuning-half", "oblique_behind_bent")
    assert not counts_for("tuning-half", "frontal")


def test_a_row_that_grows_with_the_yaw_by_itself_needs_less_width() -> None:
    """An error of 5 at 20 degrees of yaw, of which 0.2 for each are 4: 3 are left, as independent errors add up."""
    from dataclasses import replace

    from fit_pooled_margins import fit_width

    turned = [replace(row(5.0, f"t{number}"), camera=TURNED) for number in range(20)]
    assert fit_width(turned, {"frontal_per_yaw_deg": 0.2}, "frontal") == pytest.approx(3.0)
    assert fit_width(turned, {"frontal_bent_per_yaw_deg": 0.2}, "frontal") == 5.0


def test_what_is_added_for_the_yaw_makes_margins_small() -> None:
    """Errors of 1 from the front and of 1 and 0.3 times 20 degrees, as independent errors add up, at 20 degrees."""
    from dataclasses import replace

    from fit_pooled_margins import fit_per_yaw

    straight = [row(1.0, f"s{number}") for number in range(20)]
    turned = [replace(row(float(np.hypot(1.0, 6.0)), f"t{number}"), camera=TURNED) for number in range(20)]
    found = fit_per_yaw({("m", "frontal"): [*straight, *turned], ("other", "frontal"): turned}, "m", {})
    assert found == pytest.approx(0.3)


def test_a_bent_trunk_has_rows_of_its_own_where_the_camera_must_be_known() -> None:
    from dataclasses import replace

    from fit_pooled_margins import key_of

    raised = replace(row(1.0, measure="arm_line_raise_peak"), exercise="bench-lateral-raise")
    assert key_of(raised) == "frontal_bent"
    assert key_of(replace(raised, exercise="lateral-raise")) == "frontal"
    assert key_of(replace(raised, measure="arm_raise_peak")) == "frontal"


def test_a_row_with_few_sets_is_called_an_analogy(tmp_path: Path) -> None:
    import tomllib

    from fit_pooled_margins import ENOUGH, lines_of, rewritten

    text = "# head\n[knee_flexion_max]\nfrontal = 3.0\nbehind = 2.0\nper_yaw_deg = 0.5\n"
    fits = {"knee_flexion_max": lines_of("knee_flexion_max", "frontal", 4.0, ENOUGH - 1)}
    again = tomllib.loads(rewritten(text, fits, {"knee_flexion_max": ["frontal"]}))
    assert again["knee_flexion_max"] == {
        "frontal": 4.0,
        "per_yaw_deg": 0.5,
        "behind": 2.0,
        "analogy": ["frontal", "behind"],  # no set shows the second any more
    }


def test_a_new_measure_gets_rows_and_the_others_keep_theirs_to_the_letter() -> None:
    from fit_pooled_margins import rewritten

    text = "# head\n[arm_raise_peak]\nfrontal = 3.0  # fitted, 40 sets\n[knee_flexion_max]\nsagittal = 5.0  # kept\n"
    again = rewritten(text, {"elbow_flexion_min": ["frontal = 4.0  # fitted, 31 sets"]}, {})
    assert "[arm_raise_peak]\nfrontal = 3.0  # fitted, 40 sets\n[elbow_flexion_min]\nfrontal = 4.0" in again
    assert again.endswith("[knee_flexion_max]\nsagittal = 5.0  # kept\n")


def test_a_measure_without_a_row_is_read_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a committed set: what the table does not know yet must be fitted to something."""
    from fit_pooled_margins import rows_of
    from formcheck.measures import margins
    from rendered_sets import list_paths, load_set

    known = {name: row for name, row in margins._read_table().items() if name != "arm_raise_peak"}
    monkeypatch.setattr(margins, "_read_table", lambda: known)
    (path,) = list_paths("tuning", ["000_"])
    rows = [row for _, row in rows_of(load_set(path), frozenset({"arm_raise_peak"}))]
    assert {one.measure for one in rows} == {"arm_raise_peak"}
    assert all(np.isfinite(one.error) for one in rows)
