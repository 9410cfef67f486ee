"""Which point is changed first: what spares the body, then size times frequency (common practice)."""

from dataclasses import replace

from formcheck.core.model import Finding, Measure, Review
from formcheck.exercises.registry import get_exercise
from formcheck.report.next_cue import SIZE_CAP, choose_next_cue
from tests.web.synthetic import synthetic_analysis

EXERCISE = get_exercise("lateral-raise")


def finding(check: str, reps: tuple[int, ...], value: float | None, verdict: str = "not_met") -> Finding:
    rule = next(item for item in EXERCISE.checks if item.id == check)
    return Finding(check, verdict, reps, rule.measure, value, rule.limit, 3.0, rule.title, "common practice")  # type: ignore[arg-type]


def review(*findings: Finding) -> Review:
    return replace(synthetic_analysis().review, findings=findings)


def first(*findings: Finding) -> str:
    chosen = choose_next_cue(review(*findings), EXERCISE)
    assert chosen is not None
    return chosen.check


def test_nothing_to_change_gives_no_cue() -> None:
    assert choose_next_cue(review(), EXERCISE) is None
    assert (
        choose_next_cue(
            review(finding("height", (1, 2), 95.0, "met"), finding("no-swing", (), None, "undecided")), None
        )
        is None
    )


def test_what_spares_the_body_comes_before_what_is_larger_and_more_frequent() -> None:
    # height: 82 wanted, 48 measured, a fault is 12: nearly three of them, in every rep; swing: barely beyond, in one.
    height, swing = finding("height", (1, 2, 3, 4, 5, 6), 48.0), finding("no-swing", (6,), 11.0)
    assert first(height, swing) == first(swing, height) == "no-swing"


def test_size_counts_in_faults_that_a_coach_would_name() -> None:
    # 82 - 70 = 12° is one such fault (70°); 0.8 - 0.2 = 0.6 s is two (0.5 s).
    assert first(finding("height", (1, 2), 70.0), finding("lowering", (1, 2), 0.2)) == "lowering"
    assert first(finding("height", (1, 2), 46.0), finding("lowering", (1, 2), 0.5)) == "height"


def test_frequency_counts_as_the_share_of_the_reps_judged() -> None:
    kept = finding("lowering", (2, 3, 4, 5, 6), 1.4, "met")
    assert first(finding("height", (1, 2, 3, 4, 5, 6), 72.0), finding("lowering", (1,), 0.4), kept) == "height"
    # What could not be measured was not judged: one of one is every rep.
    unseen = finding("lowering", (2, 3, 4, 5, 6), None, "undecided")
    assert first(finding("height", (1, 2, 3, 4, 5, 6), 72.0), finding("lowering", (1,), 0.4), unseen) == "lowering"


def test_one_wild_rep_does_not_outweigh_a_fault_in_every_rep() -> None:
    wild = finding("even-sides", (4,), 5.0 + 40 * 10.0)
    rest = finding("even-sides", (1, 2, 3, 5, 6), 1.0, "met")
    assert SIZE_CAP / 6 < (82.0 - 72.0) / 12.0
    assert first(wild, rest, finding("height", (1, 2, 3, 4, 5, 6), 72.0)) == "height"


def test_the_size_of_a_signed_value_has_no_sign() -> None:
    chosen = choose_next_cue(review(finding("even-sides", (1,), -16.0)), EXERCISE)
    assert chosen is not None
    assert "16°" in chosen.why
    assert "−16" not in chosen.why


def test_equal_points_go_by_the_exercises_order() -> None:
    # Both one fault off, in the same reps.
    assert first(finding("height", (1,), 70.0), finding("lowering", (1,), 0.5)) == "height"


def test_the_reason_names_reps_value_margin_and_limit() -> None:
    analysis = synthetic_analysis()
    chosen = choose_next_cue(analysis.review, EXERCISE)
    assert chosen is not None
    assert (chosen.check, chosen.reps, chosen.at_s) == ("height", (5, 6), analysis.review.reps[5].top_s)
    assert chosen.cue == next(item.cue for item in EXERCISE.checks if item.id == "height")
    assert chosen.why.replace("\u00a0", " ") == (
        "Reps 5 and 6 of 6: highest arm elevation 68° ± 4°, asked for: at least 82°."
    )
    swing = finding("no-swing", (3,), 20.0)
    measured = replace(review(swing), measures=(Measure("torso_inclination_range", None, 3, 20.0, 5.0, "deg"),))
    chosen = choose_next_cue(measured, EXERCISE)
    assert chosen is not None
    assert "20° ± 5°" in chosen.why.replace("\u00a0", " ")
    assert chosen.why.endswith("First because it spares the lower back.")


def test_a_review_of_an_exercise_that_is_gone_still_has_its_cue() -> None:
    chosen = choose_next_cue(synthetic_analysis().review, None)
    assert chosen is not None
    assert chosen.title == "Height"
    assert chosen.cue
