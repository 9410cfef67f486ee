"""How much worse later reps are than the first ones, with numbers worked out by hand."""

from math import sqrt

import pytest

from formcheck.statistics import change_in_set
from formcheck.statistics.change_in_set import compute_change_margin, compute_changes, find_first


@pytest.fixture(autouse=True)
def _half_is_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half of every margin is each rep's own, and a change is off by nothing besides."""
    monkeypatch.setattr(change_in_set, "_get_shares", lambda _measure, _plane: (0.5, 0.0))


def changes(values: list[float], margin: float = 4.0, limit: float = 10.0) -> dict[int, float]:
    badness = dict(enumerate(values, 1))
    found = compute_changes(badness, dict.fromkeys(badness, margin), (1, 2, 3), limit, "any", "sagittal")
    return {item.rep: item.worse for item in found}


def test_each_later_rep_is_held_against_the_mean_of_the_first_three() -> None:
    assert changes([1.0, 2.0, 3.0, 23.0, 2.0]) == {4: 21.0, 5: 0.0}


def test_the_margin_is_that_of_a_difference_from_a_mean_of_three() -> None:
    """Own error 0.5 * 4 / 1.96; 1.96 * own * sqrt(1 + 1/3) = 2 * 1.1547 = 2.309."""
    badness = dict.fromkeys(range(1, 6), 0.0)
    item = compute_changes(badness, dict.fromkeys(badness, 4.0), (1, 2, 3), 10.0, "any", "sagittal")[0]
    assert item.margin == pytest.approx(2.0 * sqrt(4 / 3))
    whole = sqrt(4.0**2 + 3 * 4.0**2 / 9)
    assert compute_change_margin("any", "sagittal", whole, 0.0) == pytest.approx(item.margin)


def test_a_share_of_the_change_is_added_as_independent_errors_add_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(change_in_set, "_get_shares", lambda _measure, _plane: (0.5, 0.2))
    assert compute_change_margin("any", "sagittal", 6.0, 20.0) == pytest.approx(5.0)  # 3-4-5


@pytest.mark.parametrize(
    "values",
    [
        [0.0, 0.0, 0.0, 21.0],  # too few reps
        [0.0, 9.0, 0.0, 21.0, 21.0],  # the first ones scatter by more than half the limit and their errors
        [21.0, 20.0, 21.0, 0.0, 0.0, 1.0],  # the first ones are the worse ones
    ],
)
def test_nothing_is_said_where_the_first_reps_are_no_measure(values: list[float]) -> None:
    assert changes(values) == {}


def test_a_change_far_beyond_how_the_first_reps_go_to_and_fro_is_told() -> None:
    for last, told in ((50.0, True), (30.0, False)):
        assert bool(changes([0.0, 9.0, 0.0, last, last])) == told


def test_a_set_that_worsens_from_its_first_rep_on_is_told() -> None:
    """A torso that comes up by 4 degrees a rep: 8 above the mean of the first three in rep 4, 12 in rep 5."""
    assert changes([0.0, 4.0, 8.0, 12.0, 16.0], margin=2.0, limit=5.0) == {4: 8.0, 5: 12.0}
    assert changes([0.0, 8.0, 4.0, 12.0, 16.0], margin=2.0, limit=5.0) == {}


def test_first_reps_that_scatter_as_their_errors_explain_are_a_measure() -> None:
    """Own error 2.55 of a margin of 10: a range of three up to 8.4 is chance."""
    assert changes([0.0, 8.0, 0.0, 21.0, 21.0], margin=10.0)
    assert not changes([0.0, 9.0, 0.0, 21.0, 21.0], margin=10.0)


@pytest.mark.parametrize(
    ("changed", "later", "first"),
    [
        ((4, 5, 6), (4, 5, 6), 4),
        ((6, 7, 8), (4, 5, 6, 7, 8), 6),
        ((4, 5, 7), (4, 5, 6, 7), 4),
        ((4, 9), (4, 5, 6, 7, 8, 9), None),
        ((9,), (4, 5, 6, 7, 8, 9), None),
    ],
)
def test_a_change_is_told_from_the_rep_on_from_which_most_have_it(
    changed: tuple[int, ...], later: tuple[int, ...], first: int | None
) -> None:
    assert find_first(changed, later) == first


def test_the_shipped_table_has_shares() -> None:
    change_in_set._read_table.cache_clear()
    for measure, row in change_in_set._read_table().items():
        assert all(0 < share <= 1 for share in row.values()), measure
