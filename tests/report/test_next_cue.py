"""The one thing to tell a lifter: what is changed first, which words name it, and what a clean set is told.

What a coach would say is common practice.
"""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from formcheck.core.model import Finding, Grade, Measure, Message, Point, Review, SetInfo
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.report.next_cue import SIZE_CAP, NextCue, choose_next_cue, find_first_rep
from formcheck.report.summary import group_findings
from formcheck.report.wording import describe_reps
from formcheck.verdicts import VERDICT_OF
from tests.facts import says
from tests.statistics.sets import in_turn
from tests.web.synthetic import synthetic_analysis

EXERCISE = get_exercise("lateral-raise")
ALL = (1, 2, 3, 4, 5, 6)


def finding(
    check: str, reps: tuple[int, ...], value: float | None, verdict: str = "not_met", grade: Grade | None = None
) -> Finding:
    rule = next(item for item in EXERCISE.checks if item.id == check)
    verdict = VERDICT_OF[grade] if grade else verdict
    return Finding(
        check,
        verdict,
        reps,
        rule.measure,
        value,
        rule.limit,
        3.0,
        rule.title,
        "common practice",
        grade=grade,  # type: ignore[arg-type]
    )


def review(*findings: Finding, measures: tuple[Measure, ...] = (), target: int | None = None) -> Review:
    whole = synthetic_analysis().review
    quality = replace(whole.quality, problems=())
    return replace(
        whole, findings=findings, measures=measures, quality=quality, set_info=SetInfo(target_reps=target), points=()
    )


def graded(check: str, grade: Grade | None, probability: float | None, beyond: tuple[int, ...] = ()) -> Point:
    return Point(check, "level", VERDICT_OF[grade] if grade else "undecided", grade, probability, ALL, beyond)


def choose(found: Review) -> NextCue:
    chosen = choose_next_cue(found, EXERCISE)
    assert chosen is not None
    return chosen


def first(*findings: Finding) -> str:
    return choose(review(*findings)).check


# ---------------------------------------------------------------- which point


def test_what_was_not_judged_gives_no_cue() -> None:
    assert choose_next_cue(review(), EXERCISE) is None
    assert choose_next_cue(replace(review(finding("height", ALL, 60.0)), reps=()), EXERCISE) is None


def test_what_spares_the_body_comes_first_where_the_fault_is_of_real_size() -> None:
    # height: 82 wanted, 48 measured, a fault is 12: nearly three of them, in every rep; swing: one fault (15), in one.
    height, swing = finding("height", ALL, 48.0), finding("no-swing", (6,), 15.5)
    assert first(height, swing) == first(swing, height) == "no-swing"
    # One that is only probable takes its turn by its weight.
    points = (graded("height", "not_met", 0.99, ALL), graded("no-swing", "probably_not_met", 0.9, (6,)))
    doubted = review(height, finding("no-swing", (6,), 15.5, grade="probably_not_met"))
    assert choose(replace(doubted, points=points)).check == "height"
    # Barely beyond its limit, it is one fault among others.
    assert first(height, finding("no-swing", (6,), 9.0)) == "height"


def test_size_counts_in_faults_that_a_coach_would_name() -> None:
    # 82 - 70 = 12° is one such fault (70°); 0.8 - 0.2 = 0.6 s is two (0.5 s).
    assert first(finding("height", (1, 2), 70.0), finding("lowering", (1, 2), 0.2)) == "lowering"
    assert first(finding("height", (1, 2), 46.0), finding("lowering", (1, 2), 0.5)) == "height"


def test_frequency_counts_as_the_share_of_the_reps_judged() -> None:
    kept = finding("lowering", (2, 3, 4, 5, 6), 1.4, "met")
    assert first(finding("height", ALL, 72.0), finding("lowering", (1,), 0.4), kept) == "height"
    # What could not be measured was not judged: one of one is every rep.
    unseen = finding("lowering", (2, 3, 4, 5, 6), None, "undecided")
    assert first(finding("height", ALL, 72.0), finding("lowering", (1,), 0.4), unseen) == "lowering"


def test_one_wild_rep_does_not_outweigh_a_fault_in_every_rep() -> None:
    wild = finding("even-sides", (4,), 5.0 + 40 * 10.0)
    rest = finding("even-sides", (1, 2, 3, 5, 6), 1.0, "met")
    assert SIZE_CAP / 6 < (82.0 - 72.0) / 12.0
    assert first(wild, rest, finding("height", ALL, 72.0)) == "height"


def test_the_surer_of_two_equal_faults_comes_first() -> None:
    # Both one fault off in every rep; sure against probable.
    found = (finding("height", ALL, 74.0, grade="probably_not_met"), finding("lowering", ALL, 0.5, grade="not_met"))
    points = (graded("height", "probably_not_met", 0.88, ALL), graded("lowering", "not_met", 0.99, ALL))
    chosen = choose(replace(review(*found), points=points))
    assert chosen.check == "lowering"
    assert "probable" not in chosen.why
    only = choose(replace(review(*found), points=points[:1]))
    assert (only.check, "probable, not sure" in only.why) == ("height", True)


def test_a_sure_change_comes_before_a_larger_loss_that_is_only_probable() -> None:
    """A torso that rises brings the hands down with it: what was surely seen to change is told, not what follows."""
    bent = get_exercise("bent-over-lateral-raise")
    rule = {item.id: item for item in bent.checks}
    given = {"title": "Torso as low as at first", "cue": "Keep the hinge.", "word": "more upright", "from_rep": 4}
    change = Finding(
        "torso-parallel", "not_met", (4, 5, 6), rule["torso-parallel"].measure, 12.0, 5.0, 3.0, "", "", grade="not_met",
        kind="change", margin=3.0, text_coded=Message("changed", {**given, "judged": 3, "rep": 6, "bound": "at_most"}),
    )  # fmt: skip
    lost = Finding(
        "arms-high", "not_met", ALL, rule["arms-high"].measure, 50.0, rule["arms-high"].limit, 3.0, "", "",
        grade="probably_not_met",
    )  # fmt: skip
    points = (
        Point("torso-parallel", "change", "not_met", "not_met", 0.99, (4, 5, 6), (4, 5, 6)),
        graded("arms-high", "probably_not_met", 0.96, ALL),
    )
    chosen = choose_next_cue(replace(review(change, lost), points=points), bent)
    assert chosen is not None
    assert (chosen.check, chosen.from_rep) == ("torso-parallel", 4)
    assert "about 12° more upright" in chosen.why


def test_a_range_lost_while_the_torso_comes_up_is_put_down_to_the_torso() -> None:
    """A bent-over raise whose last reps are half as large, with the torso at 50 instead of 70 degrees in these reps."""
    row = get_exercise("bent-over-lateral-raise")
    rules = {check.id: check for check in row.checks}

    def fault(check: str, reps: tuple[int, ...], value: float) -> Finding:
        rule = rules[check]
        found = (check, "not_met", reps, rule.measure, value, rule.limit, 3.0, rule.title, "common practice")
        return Finding(*found, grade="not_met")  # type: ignore[arg-type]

    def told(torso_reps: tuple[int, ...], exercise: Exercise = row) -> str:
        kept = tuple(rep for rep in ALL if rep not in torso_reps)
        torso = (fault("torso-parallel", torso_reps, 62.0), replace(fault("torso-parallel", kept, 80.0), grade="met"))
        shrinks = (fault("range-kept", (4, 5, 6), 0.5), replace(fault("range-kept", (1, 2, 3), 1.0), grade="met"))
        points = (
            graded("torso-parallel", "not_met", 0.99, torso_reps),
            graded("range-kept", "not_met", 0.99, (4, 5, 6)),
        )
        cue = choose_next_cue(replace(review(*torso, *shrinks), points=points), exercise)
        assert cue is not None
        return cue.check

    assert told((4, 5, 6)) == told((3, 4, 5, 6)) == "torso-parallel"
    # One that comes up in other reps explains nothing, and the larger fault is told.
    assert told((1,)) == "range-kept"
    # Where the torso moves with the lift, it is one fault among others.
    assert told((4, 5, 6), row.model_copy(update={"position": "standing"})) == "range-kept"


def test_a_point_is_told_only_where_the_set_is_at_fault() -> None:
    """One rep of six beside the others is no fault of the set where its grade says so."""
    found = (finding("height", (3,), 70.0, grade="not_met"), finding("height", (1, 2, 4, 5, 6), 90.0, grade="met"))
    chosen = choose(replace(review(*found), points=(graded("height", "met", 0.02, (3,)),)))
    assert chosen.kind == "praise"


def test_equal_points_go_by_the_exercises_order() -> None:
    # Both one fault off, in the same reps.
    assert first(finding("height", (1,), 70.0), finding("lowering", (1,), 0.5)) == "height"


# ---------------------------------------------------------------- its words


def test_the_reason_names_reps_value_margin_and_limit() -> None:
    analysis = synthetic_analysis()
    chosen = choose(analysis.review)
    assert (chosen.check, chosen.reps, chosen.at_s) == ("height", (5, 6), analysis.review.reps[5].top_s)
    assert (chosen.kind, chosen.from_rep) == ("change", 5)
    cue = next(item.cue for item in EXERCISE.checks if item.id == "height")
    assert chosen.cue == f"{cue} It held for 4 reps: next time end the set where it goes."
    for fact in ("From rep 5 on", "at worst about 68°, give or take 4°", "82° or more"):
        assert fact in chosen.why
    swing = finding("no-swing", (3,), 20.0)
    measured = review(swing, measures=(Measure("torso_inclination_range", None, 3, 20.0, 5.0, "deg"),))
    assert "about 20°, give or take 5°" in choose(measured).why
    assert "spares the lower back" in choose(measured).why


@pytest.mark.parametrize(("sign", "lower"), [(1, "right"), (-1, "left")])
def test_the_lower_side_is_named_and_told_to_come_up(sign: int, lower: str) -> None:
    """The measure is left minus right."""
    other = "left" if lower == "right" else "right"
    values = tuple(Measure("arm_line_difference", None, rep, sign * 16.0, 4.0, "deg") for rep in ALL)
    chosen = choose(review(finding("even-sides", ALL, sign * 16.0), measures=values))
    assert chosen.side == lower
    assert f"{lower} hand up" in chosen.cue
    assert other in chosen.cue
    assert f"{lower} arm about 16° lower, give or take 4°" in chosen.why
    assert "−" not in chosen.why
    made = review(finding("even-sides", ALL, sign * 16.0), measures=values)
    (shown,) = [item for group in group_findings(made, EXERCISE).values() for item in group if item.evidence]
    assert f"worst: {other} arm 16° ± 4° higher in rep" in shown.evidence.replace("\u00a0", " ")


def test_one_wild_rep_does_not_turn_the_side_around() -> None:
    measure = next(item.measure for item in EXERCISE.checks if item.id == "even-sides")
    sizes = (-67.0, 14.0, 13.0, 15.0, 14.0, 12.0)
    values = tuple(Measure(measure, None, rep, value, 4.0, "deg") for rep, value in zip(ALL, sizes, strict=True))
    chosen = choose(review(finding("even-sides", ALL, -67.0), measures=values))
    assert chosen.side == "right"
    assert "right arm about 13° lower, give or take 4°" in chosen.why


def test_no_arm_is_called_lower_where_it_may_as_well_be_the_other() -> None:
    measure = next(item.measure for item in EXERCISE.checks if item.id == "even-sides")
    values = tuple(Measure(measure, None, rep, 9.0, 20.0, "deg") for rep in ALL)
    chosen = choose(review(finding("even-sides", ALL, 9.0), finding("lowering", ALL, 1.9, "met"), measures=values))
    assert (chosen.kind, chosen.side) == ("praise", None)
    sure = tuple(replace(item, margin=8.0) for item in values)
    assert choose(review(finding("even-sides", ALL, 9.0), measures=sure)).side == "right"


def test_what_the_lower_arm_explains_is_not_told_in_its_place() -> None:
    even, height = (
        next(item.measure for item in EXERCISE.checks if item.id == name) for name in ("even-sides", "height")
    )
    values = [Measure(even, None, rep, 12.0, 4.0, "deg") for rep in ALL]
    for side, level in (("left", 90.0), ("right", 60.0)):
        values += [Measure(height, side, rep, level, 4.0, "deg") for rep in ALL]  # type: ignore[arg-type]
    found = (finding("even-sides", ALL, 12.0), finding("height", ALL, 60.0))
    assert choose(review(*found, measures=tuple(values))).check == "even-sides"
    # Where both arms are low, that is another fault, and here the larger one.
    low = tuple(replace(item, value=60.0) if item.name == height else item for item in values)
    assert choose(review(*found, measures=low)).check == "height"


def test_the_one_side_that_falls_short_is_named() -> None:
    values = [Measure("arm_line_raise_peak", "left", rep, 68.0, 4.0, "deg") for rep in ALL]
    values += [Measure("arm_line_raise_peak", "right", rep, 90.0, 4.0, "deg") for rep in ALL]
    chosen = choose(review(finding("height", ALL, 68.0), measures=tuple(values)))
    assert chosen.side == "left"
    assert "left side, highest line of the arm" in chosen.why
    both = tuple(replace(item, value=68.0) for item in values)
    assert choose(review(finding("height", ALL, 68.0), measures=both)).side is None
    # An arm that was not seen may be as low.
    assert choose(review(finding("height", ALL, 68.0), measures=tuple(values[:6]))).side is None


def test_single_half_reps_are_told_as_such_and_a_shrinking_range_as_one() -> None:
    kept = finding("range-kept", (1, 2, 4, 5), 0.99, "met")
    halves = choose(review(finding("range-kept", (3, 6), 0.5), kept))
    assert halves.cue.startswith("Reps 3 and 6 were half reps")
    assert (halves.reps, halves.from_rep) == ((3, 6), None)
    assert "weight" not in halves.cue
    # Where they are only probable, the cue is something else.
    shaky = review(finding("range-kept", (3, 6), 0.5, grade="probably_not_met"), kept)
    doubted = choose(replace(shaky, points=(graded("range-kept", "probably_not_met", 0.9, (3, 6)),)))
    assert doubted.kind == "praise"
    assert "reps 3 and 6" in doubted.why
    # That a half rep ends low says nothing more.
    both = review(finding("range-kept", (3, 6), 0.5), kept, finding("height", (3, 6), 40.0))
    assert choose(both).check == "range-kept"
    shrinks = choose(review(finding("range-kept", (4, 5, 6), 0.7), finding("range-kept", (1, 2, 3), 0.99, "met")))
    assert shrinks.from_rep == 4
    assert "From rep 4 on" in shrinks.why
    assert "It held for 3 reps" in shrinks.cue
    early = choose(review(finding("range-kept", (3, 4, 5, 6), 0.7), finding("range-kept", (1, 2), 0.99, "met")))
    assert "From rep 3 on the range got smaller: less weight" in early.cue


def test_a_change_within_the_set_is_told_beside_the_first_reps() -> None:
    given = {"title": "Arms as high as at first", "cue": "Up to where you began.", "word": "lower", "from_rep": 4}
    change = replace(
        finding("height", (4, 5, 6), 21.0, grade="not_met"),
        kind="change",
        limit=10.0,
        margin=4.0,
        text_coded=Message("changed", {**given, "judged": 3, "rep": 6, "bound": "at_most"}),
    )
    point = Point("height", "change", "not_met", "not_met", 0.99, (4, 5, 6), (4, 5, 6))
    chosen = choose(replace(review(change), points=(graded("height", "close", 0.5), point)))
    assert chosen.title == "Arms as high as at first"
    assert chosen.cue.startswith("Up to where you began.")
    assert "3 reps" in chosen.cue
    assert chosen.why.startswith("From rep 4 on")
    assert "at worst about 21° lower than in your first three reps, give or take 4°" in chosen.why


def test_a_single_rep_that_differs_is_not_told_as_a_loss_towards_the_end() -> None:
    given = {"title": "Arms as high at the end as at the start", "cue": "Lift the last rep as high as the first."}
    parameters = {**given, "word": "lower", "judged": 3, "rep": 4, "bound": "at_most"}
    single = replace(
        finding("height", (4,), 30.0, grade="not_met"),
        kind="change",
        limit=10.0,
        margin=4.0,
        text_coded=Message("changed", {**parameters, "from_rep": 0}),
    )
    point = Point("height", "change", "not_met", "not_met", 0.99, (4, 5, 6), (4,))
    rule = next(item for item in EXERCISE.checks if item.id == "height")
    found = replace(review(single), points=(graded("height", "close", 0.5), point))
    (view,) = group_findings(found, EXERCISE)["not_met"]
    assert (view.title, view.cue) == (rule.title, rule.cue)
    assert choose(found).title == rule.title
    for_good = replace(single, reps=(4, 5, 6), text_coded=Message("changed", {**parameters, "from_rep": 4}))
    (view,) = group_findings(replace(found, findings=(for_good,)), EXERCISE)["not_met"]
    assert (view.title, view.cue) == (rule.change_title, rule.change_cue)


@pytest.mark.parametrize(
    ("reps", "judged", "begins"),
    [
        ((4, 5, 6), ALL, 4),
        ((2, 5, 6), ALL, 5),
        ((2, 3, 5, 6), ALL, 2),
        ((3, 6), ALL, None),
        ((6,), ALL, None),
        (ALL, ALL, 1),
        ((1,), (1,), 1),
    ],
)
def test_a_fault_begins_where_two_thirds_of_what_follows_have_it(
    reps: tuple[int, ...], judged: tuple[int, ...], begins: int | None
) -> None:
    assert find_first_rep(reps, judged) == begins


def test_what_went_early_in_a_long_set_is_to_be_held_longer() -> None:
    whole = review(finding("height", (4, 5, 6), 60.0), finding("height", (1, 2, 3), 90.0, "met"))
    assert choose(whole).cue.endswith("It held for 3 reps: next time end the set where it goes.")
    more = tuple(replace(whole.reps[-1], number=number) for number in range(7, 13))
    long = replace(whole, reps=(*whole.reps, *more))
    assert choose(long).cue.endswith("It held for 3 reps: next time hold it one rep longer.")


def test_a_ratio_says_what_lengths_it_is_counted_in() -> None:
    press = get_exercise("dumbbell-press")
    check = next(item for item in press.checks if item.measure == "hand_height_low")
    found = Finding(check.id, "not_met", ALL, check.measure, 0.93, check.limit, 3.0, "", "", grade="not_met")
    values = (Measure(check.measure, "left", 3, 0.93, 0.2, "ratio"),)
    chosen = choose_next_cue(review(found, measures=values), press)
    assert chosen is not None
    assert "about 0.93 upper-arm lengths, give or take 0.20" in chosen.why


def test_fewer_reps_than_planned_are_remarked() -> None:
    told = choose(review(finding("height", ALL, 60.0), target=11))
    assert "6 of 11" in told.why
    assert "11" not in choose(review(finding("height", ALL, 60.0), target=6)).why


def test_fewer_reps_of_one_side_than_planned_each_side_are_remarked() -> None:
    def told(sides: str) -> NextCue:
        made = in_turn(sides)
        kept = tuple(finding(check, tuple(range(1, len(sides) + 1)), 95.0, "met") for check in ("height", "lowering"))
        info = SetInfo(target_reps=5, target_each_side=True)
        return choose(replace(made, findings=kept, quality=review().quality, set_info=info))

    short = told("LRLRLRLRL")
    assert says(short.why, "5 left and 4 right of 5 planned reps each side")
    assert "all 5 reps each side" in short.cue
    assert "planned" not in told("LR" * 5).why
    assert "planned" in told("L" * 12).why
    assert describe_reps(replace(in_turn("LRL"), set_info=SetInfo(target_reps=5, target_each_side=True))).startswith(
        "3 complete reps (2 left, 1 right; target 5 each side)."
    )


# ---------------------------------------------------------------- nothing to change


def test_a_clean_set_gets_praise_and_a_next_step() -> None:
    kept = [finding(check, ALL, value, "met") for check, value in (("height", 95.0), ("lowering", 1.9))]
    chosen = choose(review(*kept))
    assert (chosen.kind, chosen.check, chosen.reps) == ("praise", "", ())
    assert "6 reps" in chosen.cue
    assert "next time" in chosen.cue.lower()
    assert "coach" in chosen.why
    for check in ("height", "lowering"):
        title = next(item.title for item in EXERCISE.checks if item.id == check)
        assert title.lower() in chosen.why.lower()
    fewer = choose(review(*kept, target=9))
    assert "all 9 reps" in fewer.cue
    assert "6 of 9" in fewer.why


def test_where_little_was_seen_nothing_is_praised() -> None:
    checks = [check.id for check in EXERCISE.checks]
    found = [finding(checks[0], ALL, 95.0, "met")]
    found += [replace(finding(check, ALL, None, "undecided"), reason="wrong_view") for check in checks[1:]]
    chosen = choose(review(*found))
    assert chosen.kind == "film"
    assert f"1 of {len(checks)} points could be seen" in chosen.cue
    assert "film" in chosen.cue.lower()
    assert "good set" not in chosen.cue.lower()


def test_a_set_with_a_problem_is_not_praised() -> None:
    analysis = synthetic_analysis()
    kept = tuple(item for item in analysis.review.findings if item.verdict == "met")
    found = replace(analysis.review, findings=kept, points=())
    assert found.quality.problems == () or choose_next_cue(found, EXERCISE) is None


def test_a_review_of_an_exercise_that_is_gone_still_has_its_cue() -> None:
    chosen = choose_next_cue(synthetic_analysis().review, None)
    assert chosen is not None
    assert chosen.title == "Height"
    assert chosen.cue


def test_no_cue_is_for_a_moment_that_is_over_or_asks_for_less_weight() -> None:
    """Less weight is asked for where the range is lost, by a template; a set that is told of is over."""
    words = tomllib.loads((Path(__file__).parents[2] / "formcheck/report/words.toml").read_text(encoding="utf-8"))
    own = {
        key: text
        for key, text in words["next_cue"].items()
        if key not in ("range-lost", "held", "next-step", "next-step-fewer")
    }
    spoken = {f"words {key}": text for key, text in own.items()}
    for exercise in load_exercises().values():
        checks = [*exercise.checks, *(check for one in exercise.variations for check in one.checks)]
        spoken |= {f"{exercise.id} {check.id}": check.cue for check in checks}
        changes = ((check.id, getattr(check, "change_cue", None)) for check in checks)
        spoken |= {f"{exercise.id} {name} change": cue for name, cue in changes if cue}
    for place, text in spoken.items():
        for word in (
            "less weight",
            "lighter",
            "smaller dumbbells",
            "weight off",
            "some load",
            "easier",
            "end the set",
            "stop the set",
        ):
            assert word not in text.lower(), f"{place}: {text}"


# ---------------------------------------------------------------- a set and its reps


@pytest.mark.parametrize(
    ("of_set", "of_reps", "says"),
    [
        ("close", {"probably_met": (1, 2, 3), "met": (4, 5, 6)}, "that all of them are is not sure"),
        ("probably_not_met", {"close": ALL}, "all of them together are"),
        ("met", {"not_met": (4,), "met": (1, 2, 3, 5, 6)}, "rep 4 missed it"),
        ("not_met", {"not_met": (4, 5, 6), "met": (1, 2, 3)}, ""),
        ("met", {"met": ALL}, ""),
        ("close", {"close": ALL}, ""),
    ],
)
def test_a_set_graded_otherwise_than_its_reps_says_why(
    of_set: Grade, of_reps: dict[Grade, tuple[int, ...]], says: str
) -> None:
    found = [finding("lowering", reps, 0.8, grade=grade) for grade, reps in of_reps.items()]
    judged = replace(review(*found), points=(graded("lowering", of_set, 0.5),))
    (view,) = group_findings(judged, EXERCISE)[of_set]
    assert says in view.text
    assert bool(says) == any(words in view.text for words in ("by itself", "as a whole"))


@pytest.mark.parametrize("of_set", ["not_met", "probably_not_met"])
def test_one_row_names_every_rep_at_fault_by_the_worst(of_set: Grade) -> None:
    """A set that is only probably at fault may hold a rep that surely is: 0.3 s is worse than 0.6 s, target 0.8 s."""
    found = [
        finding("lowering", (6,), 0.3, grade="not_met"),
        finding("lowering", (5,), 0.6, grade="probably_not_met"),
        finding("lowering", (1, 2, 3, 4), 1.2, grade="met"),
    ]
    judged = replace(review(*found), points=(graded("lowering", of_set, 0.9),))
    (view,) = group_findings(judged, EXERCISE)[of_set]
    assert view.evidence.startswith("Reps 5 and 6 · ")
    assert view.number.replace("\N{NO-BREAK SPACE}", " ").startswith("0.3 s")
    assert view.others == "Rep 6 to change, rep 5 probably to change, reps 1–4 fine"


def test_praise_counts_partial_reps_apart_and_says_what_few_reps_cannot_show() -> None:
    fine = review(finding("lowering", ALL, 1.5, grade="met"))
    six = choose_next_cue(fine, EXERCISE)
    first, *rest = fine.reps
    cut = choose_next_cue(replace(fine, reps=(replace(first, complete=False), *rest)), EXERCISE)
    two = choose_next_cue(replace(fine, reps=fine.reps[:2]), EXERCISE)
    assert six is not None
    assert cut is not None
    assert two is not None
    assert six.cue.startswith("6 reps and nothing to change.")
    assert cut.cue.startswith("5 complete reps and 1 partial rep: nothing to change.")
    assert "2 reps cannot show whether form lasts." in two.why
    assert "cannot show" not in six.why
