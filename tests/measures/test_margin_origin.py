"""Where each margin comes from, against the printed tables of errors; and that a number says so where it is shown."""

import re
from dataclasses import replace
from pathlib import Path

from formcheck.analysis import analyse
from formcheck.core.model import CameraView, LandmarkRecording, Measure
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.formats import decode, encode, make_document
from formcheck.measures.margins import find_kind, find_margin_origin, list_row_keys
from formcheck.pairing.merging import combine_measures
from formcheck.report import wording
from formcheck.report.summary import group_findings
from tests import lifter

ROOT = Path(__file__).resolve().parent.parent.parent
TABLE = (ROOT / "formcheck" / "measures" / "margins.toml").read_text(encoding="utf-8")


def fitted() -> dict[tuple[str, str], int]:
    """(measure, key) of the rows the fit wrote, and how many sets each says it rests on."""
    found, measure = {}, ""
    for line in TABLE.splitlines():
        if line.startswith("["):
            measure = line.strip("[]")
        elif match := re.match(r"(\w+) = [\d.]+  # fitted, (\d+) sets", line):
            found[measure, match[1].removesuffix("_share")] = int(match[2])
    return found


def test_what_is_called_measured_rests_on_thirty_sets_and_nothing_else_does() -> None:
    """Of 30 sets one or two lie outside a margin of 95 %: fewer say little of it (binomial distribution)."""
    backed = fitted()
    assert len(backed) > 130
    wrong, other = [], set()
    for exercise in load_exercises().values():
        for use in exercise.measures:
            for name in use.views:
                view = CameraView(name, None, None, "given")
                kind = find_kind(exercise, view)
                origin = find_margin_origin(use.name, view, kind)
                keys = [key for key in list_row_keys(view, kind) if "behind" in key or name != "back"]
                sets = next((backed[use.name, key] for key in keys if (use.name, key) in backed), 0)
                if (origin == "measured") != (sets >= 30):
                    wrong.append((exercise.id, use.name, name, origin, sets))
                other.add(origin)
    assert wrong == []
    assert {"measured", "analogy"} <= other


def number(origin: str | None) -> Measure:
    return Measure("grip_width", None, 1, 1.5, 0.3, "ratio", margin_origin=origin)  # type: ignore[arg-type]


def test_a_margin_that_was_not_measured_is_named_beside_the_number() -> None:
    plain = wording.format_measure(number("measured"))
    assert wording.format_measure(number(None)) == plain
    review = decode(encode(analyse(film_of_presses(), get_exercise("guided-bar-press")).review))
    for origin, word in (("analogy", "analogy"), ("hand", "hand")):
        marked = wording.format_measure(number(origin))
        assert marked.startswith(plain)
        mark = marked.removeprefix(plain)
        assert len(mark) == 1
        explained = wording.explain_marks(replace(review, measures=(number(origin),)))
        assert explained.startswith(mark)
        assert word in explained
    assert wording.explain_marks(replace(review, measures=(number("measured"),))) == ""
    told = dict(wording.READING)["The number after ±"]
    assert "analogy" in told
    assert "hand" in told
    assert wording.format_measure(None) == wording.NOT_MEASURED


def test_the_mean_of_two_is_as_sure_as_its_less_sure_one() -> None:
    for first, second, both in (
        ("measured", "hand", "hand"),
        ("analogy", "measured", "analogy"),
        ("measured", "measured", "measured"),
        (None, None, None),
    ):
        assert combine_measures(number(first), number(second)).margin_origin == both


def film_of_presses() -> LandmarkRecording:
    plan = lifter.Set((150.0,) * 3, low=50.0)
    t = lifter.times(plan.length_s)
    course = plan.course(t)
    return lifter.film(t, left=course, right=course, elbow=105 - 95 * (course - 50) / 100)


def test_origin_travels_from_the_table_to_document_and_evidence() -> None:
    exercise = get_exercise("guided-bar-press")
    review = decode(encode(analyse(film_of_presses(), exercise).review))
    grips = [item for item in review.measures if item.name == "grip_width" and item.value is not None]
    assert grips
    assert {item.margin_origin for item in grips} == {"analogy"}
    shares = [item for item in make_document(review)["measures"] if item["name"] == "range_share"]
    assert {item["margin_origin"] for item in shares} == {"measured"}
    found = [view for views in group_findings(review, exercise).values() for view in views]
    said = {
        name: [view.evidence for view in found if wording.get_plain_name(name) in view.evidence.lower()]
        for name in ("grip_width", "eccentric_time")
    }
    assert said["grip_width"]
    assert all("*" in text and "by analogy" not in text for text in said["grip_width"])
    assert wording.explain_marks(review).startswith("* margin by analogy")
    assert said["eccentric_time"]
    assert not any("*" in text for text in said["eccentric_time"])
