"""All tables fitted from one look: what is kept of a set, and what the margins in use make of it."""

from typing import Any

from formcheck.core.model import CameraView, Measure, Quality
from formcheck.exercises.registry import get_exercise
from formcheck.measures.across_reps import MOST_UNSURE_DEG, Reading
from formcheck.measures.margins import compute_margin, find_kind

VIEW = CameraView("front", 0.0, 8.0, "estimated")
QUALITY = Quality(1.0, 30.0, 800.0, {}, {}, (), None)


def seen(*measures: Measure) -> Any:
    from fit_tables import SeenSet

    readings = tuple(Reading(item, 1.0) for item in measures)
    return SeenSet("000", {"exercise": "lateral-raise", "sides": "both"}, readings, (), VIEW, QUALITY, ((), {}))


def test_a_value_gets_the_margin_of_the_table() -> None:
    from fit_tables import judge_by_table

    (found,) = judge_by_table(seen(Measure("arm_line_raise_peak", "left", 1, 80.0, float("inf"), "deg"))).readings
    kind = find_kind(get_exercise("lateral-raise"), VIEW)
    assert found.measure.margin == compute_margin("arm_line_raise_peak", 80.0, VIEW, QUALITY, kind)
    assert found.measure.value == 80.0


def test_what_is_too_unsure_or_without_a_row_is_not_given(monkeypatch: Any) -> None:
    import fit_tables

    value = Measure("arm_line_raise_peak", "left", 1, 80.0, float("inf"), "deg")
    for margin in (MOST_UNSURE_DEG + 1, None):
        monkeypatch.setattr(fit_tables.margins, "compute_margin", lambda *_, margin=margin: margin)
        (found,) = fit_tables.judge_by_table(seen(value)).readings
        assert (found.measure.value, found.measure.margin) == (None, None)
