"""Comparing on the page: the choice of sets, curves and skeletons at the same phase, the numbers."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from formcheck.analysis import analyse
from formcheck.core.model import Analysis, CameraView, ExerciseRef
from formcheck.exercises.registry import get_exercise
from formcheck.pose.recording import save_recording
from formcheck.signals.skeleton import BODY
from formcheck.statistics.results import Difference
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home, default_store
from formcheck.web.charts import rep_comparison
from formcheck.web.charts.phase_axis import (
    AXIS,
    STEPS,
    RepGroup,
    choose_anchor,
    choose_overlay,
    compute_curves,
    compute_phase_times,
    compute_skeleton,
)
from formcheck.web.compare.set_choice import find_related_sets, make_labels, select_newest
from formcheck.web.components.skeleton_overlay import make_overlay_data
from formcheck.web.components.training_html import render_differences
from tests import lifter
from tests.facts import says
from tests.web.synthetic import LOW, PEAKS, minimum_jerk, synthetic_analysis, synthetic_recording
from tests.web.test_pages import read_page


def group(analysis: Analysis, *numbers: int) -> RepGroup:
    reps = tuple(rep for rep in analysis.review.reps if rep.number in numbers)
    return RepGroup("reps " + " ".join(map(str, numbers)), analysis, synthetic_recording(analysis), reps, "concentric")


def test_curves_at_the_same_phase_follow_the_known_movement() -> None:
    """The made-up lift is a minimum-jerk rise, so its angle at each share of the lifting is known."""
    analysis = synthetic_analysis()
    rows = compute_curves(group(analysis, 1, 6), "arm_elevation", "left")
    for row, peak in zip(rows, (PEAKS[0], PEAKS[5]), strict=True):
        wanted = LOW + (peak - LOW) * minimum_jerk(np.linspace(0, 1, STEPS))
        np.testing.assert_allclose(row[:STEPS], wanted, atol=0.6)
        # Lowering is the same course backwards, though it takes longer.
        np.testing.assert_allclose(row[STEPS:], wanted[::-1], atol=0.6)


def test_a_set_twice_as_slow_has_the_same_curves() -> None:
    analysis = synthetic_analysis()
    slow_reps = tuple(
        replace(
            rep,
            start_s=2 * rep.start_s,
            top_s=2 * rep.top_s,
            end_s=2 * rep.end_s,
            tempo=replace(
                rep.tempo,
                eccentric_s=2 * rep.tempo.eccentric_s,
                concentric_s=2 * rep.tempo.concentric_s,
                top_pause_s=2 * rep.tempo.top_pause_s,
            ),
        )
        for rep in analysis.review.reps
    )
    slow = replace(
        analysis,
        review=replace(analysis.review, reps=slow_reps),
        signals=replace(analysis.signals, t=2 * analysis.signals.t),
    )
    one = compute_curves(group(analysis, 1, 2, 3), "arm_elevation", "left")
    two = compute_curves(
        RepGroup("slow", slow, synthetic_recording(analysis), slow_reps[:3], "concentric"), "arm_elevation", "left"
    )
    np.testing.assert_allclose(one, two, atol=1e-6)


def test_an_eccentric_first_exercise_begins_with_lowering_and_unknown_phases_are_gaps() -> None:
    rep = synthetic_analysis().review.reps[0]
    times = compute_phase_times(rep, "eccentric")
    assert times[0] == pytest.approx(rep.start_s)
    assert times[STEPS - 1] == pytest.approx(rep.start_s + rep.tempo.eccentric_s)
    unknown = replace(rep, tempo=replace(rep.tempo, eccentric_s=float("nan")))
    assert np.isnan(compute_phase_times(unknown, "concentric")[STEPS:]).all()
    assert np.isfinite(compute_phase_times(unknown, "concentric")[:STEPS]).all()


def test_skeletons_lie_over_each_other_whatever_the_picture() -> None:
    """A picture twice as large and elsewhere in the frame gives the same skeleton: shift and size are taken out."""
    analysis = synthetic_analysis()
    one = group(analysis, 1, 2, 3)
    moved = replace(one.recording, pixels=2.0 * one.recording.pixels + np.array([130.0, -40.0]))
    two = replace(one, recording=moved)
    anchor = choose_anchor((one, two))
    assert anchor == ("left_ankle", "right_ankle")
    np.testing.assert_allclose(compute_skeleton(one, anchor), compute_skeleton(two, anchor), atol=1e-9)
    # At the top of the lift the wrist stands where the angle puts it: 250 px of arm, a trunk of 260 px.
    track = compute_skeleton(one, anchor)
    wrist, shoulder = BODY.index("left_wrist"), BODY.index("left_shoulder")
    angle = math.radians(PEAKS[1])
    reach = (track[STEPS - 1, wrist] - track[STEPS - 1, shoulder]) * 260 / 250
    assert reach == pytest.approx([math.sin(angle), math.cos(angle)], abs=0.02)


def seen_from(yaw: float, name: str, yaw_deg: float | None) -> tuple[RepGroup, CameraView]:
    """A drawn set, its arms out of the middle plane, seen by a distant camera (parallel projection)."""
    plan = lifter.Set((90.0, 85.0))
    t = lifter.times(plan.length_s)
    curve = plan.course(t)
    recording = lifter.film(t, left=curve, right=0.6 * curve, plane=35.0, torso=12.0, yaw=yaw)
    analysis = analyse(lifter.film(t, left=curve, right=curve), get_exercise("lateral-raise"))
    group = RepGroup(name, analysis, recording, analysis.review.reps, "concentric")
    return group, CameraView(name, yaw_deg, 6.0, "estimated")  # type: ignore[arg-type]  # a view's name


@pytest.mark.parametrize(
    ("one", "other", "how"),
    [
        ((90.0, "left"), (-90.0, "right"), "mirrored"),
        ((0.0, "front"), (180.0, "back"), "mirrored"),
        ((40.0, "oblique"), (-140.0, "oblique"), "mirrored"),
        ((40.0, "oblique"), (40.0, "oblique"), "as filmed"),
        ((90.0, "left"), (90.0, "left"), "as filmed"),
        ((0.0, "front"), (90.0, "left"), "apart"),
        ((40.0, "oblique"), (-40.0, "oblique"), "apart"),
        ((0.0, "front"), (45.0, "oblique"), "apart"),
    ],
)
def test_pictures_are_laid_over_each_other_only_where_that_is_exact(
    one: tuple[float, str], other: tuple[float, str], how: str
) -> None:
    """Geometry: in parallel projection opposite cameras see mirror images, and no other pair sees the same."""
    (first, view), (second, other_view) = (seen_from(yaw, name, yaw) for yaw, name in (one, other))
    assert choose_overlay(view, other_view) == how
    anchor = ("left_hip", "right_hip")
    plain, mirrored = (compute_skeleton(first, anchor, mirrored=flag) for flag in (False, True))
    wanted = compute_skeleton(second, anchor)
    apart = {
        name: float(np.nanmax(np.abs(track - wanted))) for name, track in (("as filmed", plain), ("mirrored", mirrored))
    }
    if how == "apart":
        assert min(apart.values()) > 0.05
    else:
        assert apart[how] < 1e-6
        assert max(apart.values()) > 0.05 or how == "as filmed"


def test_a_slant_that_is_not_known_is_never_laid_over_another() -> None:
    slant, front = CameraView("oblique", None, None, "given"), CameraView("front", 0.0, 6.0, "estimated")
    assert choose_overlay(slant, slant) == choose_overlay(slant, front) == "apart"
    assert (
        choose_overlay(CameraView("left", None, None, "given"), CameraView("right", None, None, "given")) == "mirrored"
    )


def test_hidden_ankles_let_the_hips_hold_the_pictures_together() -> None:
    one = group(synthetic_analysis(), 1)
    seen = np.array(one.recording.visibility)
    seen[:, 27:29] = 0.1
    hidden = replace(one, recording=replace(one.recording, visibility=seen))
    assert choose_anchor((one, hidden)) == ("left_hip", "right_hip")
    data = make_overlay_data(
        [compute_skeleton(item, ("left_hip", "right_hip")) for item in (one, hidden)], "concentric", "x"
    )
    ankle = BODY.index("left_ankle")
    assert data["tracks"][1][0][2 * ankle] is None
    assert data["tracks"][0][0][2 * ankle] is not None
    assert len(data["tracks"][0]) == len(AXIS)


def test_the_chart_tells_both_apart_by_colour_and_dash_and_in_words() -> None:
    analysis = synthetic_analysis()
    groups = (group(analysis, 1, 2, 3), group(analysis, 4, 5, 6))
    assert rep_comparison.find_common_sides(groups, "arm_elevation") == ["left", "right"]
    figure = rep_comparison.draw_phase_curves(groups, "arm_elevation", "left")
    lines = [item for item in figure.data if item.mode == "lines" and item.name]
    assert len({item.line.color for item in lines}) == 2
    assert len({item.line.dash for item in lines}) == 2
    assert says(rep_comparison.describe_phase_curves(groups, "arm_elevation", "left"), "1 2 3", "10", "91")


# ---------------------------------------------------------------- which sets


@pytest.fixture
def stored(formcheck_home: object) -> list[int]:
    """Three sessions of two sets of a client, five weeks apart in all; the newest loses range."""
    numbers = []
    with Store.open(default_store()) as store:
        for session, after in enumerate((0, 20, 35)):
            for place in (1, 2):
                analysis = synthetic_analysis(f"s{session}-{place}.mp4")
                clip = replace(analysis.review.clip, sha256=f"{10 * session + place:064x}")
                day = date(2026, 10, 1) + timedelta(days=after)
                number = store.save_review(
                    replace(analysis.review, clip=clip),
                    created_at=datetime(day.year, day.month, day.day, 17, place, tzinfo=UTC),
                    client="Ada",
                    session_on=day,
                )
                files = DataFolder(data_home()).artifacts(number)
                files.folder.mkdir(parents=True)
                recording = synthetic_recording(analysis)
                save_recording(replace(recording, clip=clip), files.recording)
                numbers.append(number)
    return numbers


def test_a_month_before_is_the_session_nearest_to_four_weeks(stored: list[int]) -> None:
    with Store.open(default_store()) as store:
        rows = select_newest(store.list_reviews())
    assert [row.id for row in rows] == stored[::-1]
    newest = rows[0]
    found = {relation: row.id for relation, row in find_related_sets(rows, newest).items()}
    # 35 days before is 7 days off four weeks, 15 days before is 13 off.
    assert found == {"month": stored[1], "session": stored[3], "first": stored[4]}
    assert not find_related_sets(rows, rows[-1])
    assert make_labels(rows[1], rows[0]) == ("set 1", "set 2")
    assert make_labels(rows[2], rows[0]) == ("set 2 of 21 Oct 2026", "set 2 of 5 Nov 2026")


@pytest.fixture
def page(stored: list[int], open_page: Callable[..., AppTest]) -> AppTest:
    opened = open_page()
    opened.query_params["after"] = str(stored[-1])
    return opened.switch_page("formcheck/web/pages/compare.py").run()


def test_a_long_list_offers_the_newest_sets_and_the_one_asked_for(
    stored: list[int], open_page: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("formcheck.web.compare.set_choice.LISTED", 2)
    opened = open_page()
    opened.query_params["after"] = str(stored[0])
    page = opened.switch_page("formcheck/web/pages/compare.py").run()
    assert not page.exception
    (after_box,) = (box for box in page.selectbox if box.label == "Set looked at")
    assert after_box.value == stored[0]
    assert len(after_box.options) == 3
    assert any(says(item.value, "newest 2 sets") for item in page.caption)


def save_of(client: str | None, number: int, day: int) -> int:
    analysis = synthetic_analysis(f"other-{number}.mp4")
    review = replace(analysis.review, clip=replace(analysis.review.clip, sha256=f"{900 + number:064x}"))
    with Store.open(default_store()) as store:
        return store.save_review(review, created_at=datetime(2026, 12, day, 12, tzinfo=UTC), client=client)


def test_a_client_is_always_chosen_and_only_that_ones_sets_are_offered(
    stored: list[int], open_page: Callable[..., AppTest]
) -> None:
    for number in range(2):
        save_of("Ben", number, 1 + number)
    page = open_page().switch_page("formcheck/web/pages/compare.py").run()
    assert not page.exception
    chosen = page.selectbox(key="cmp_client")
    assert chosen.options == ["Ada", "Ben"]
    assert chosen.value is not None
    (after_box,) = (box for box in page.selectbox if box.label == "Set looked at")
    assert len(after_box.options) == len(stored)
    assert all("Ada" in item for item in after_box.options)
    assert not page.warning


def test_sets_without_a_client_are_told_to_be_of_perhaps_two_people(
    stored: list[int], open_page: Callable[..., AppTest]
) -> None:
    """Nobody in particular is not a person: no set without a client is the session before of another."""
    numbers = [save_of(None, number, 1 + number) for number in range(2)]
    opened = open_page()
    opened.query_params["after"] = str(numbers[-1])
    page = opened.switch_page("formcheck/web/pages/compare.py").run()
    assert not page.exception
    assert page.selectbox(key="cmp_client").value == 0
    assert says(page.warning[0].value, "two people")
    assert not [control for control in page.segmented_control if control.label == "Compare with"]
    (before,) = (box for box in page.selectbox if box.label == "The other set")
    assert len(before.options) == 1


def test_a_client_without_a_set_is_told(stored: list[int], open_page: Callable[..., AppTest]) -> None:
    with Store.open(default_store()) as store:
        new = store.add_client("Zoe", created_at=datetime.now(UTC)).id
    opened = open_page()
    opened.query_params["client"] = str(new)
    page = opened.switch_page("formcheck/web/pages/compare.py").run()
    page.selectbox(key="cmp_client").set_value(new).run()
    assert not page.exception
    assert says(page.info[0].value, "no set", "client")


def test_two_sets_are_compared_with_sentence_and_margins(page: AppTest) -> None:
    assert not page.exception
    text = read_page(page).replace("\u00a0", " ")
    assert says(text, "set 2", "1 Oct 2026")
    assert says(text, "set 2", "5 Nov 2026")
    assert says(text, "no certain change")  # the sets are alike
    assert says(text, "sets", "different sessions")
    assert 'data-label="Change"' in text
    assert says(text, "aligned at the", "ankles")


@pytest.mark.parametrize(
    ("sides", "words"),
    [
        (("left", "right"), ("opposite sides", "left", "right", "mirrored")),
        (("front", "left"), ("front", "left", "cannot be laid over each other")),
    ],
)
def test_sets_filmed_from_different_sides_say_how_they_are_shown(
    formcheck_home: object, open_page: Callable[..., AppTest], sides: tuple[str, str], words: tuple[str, ...]
) -> None:
    numbers = []
    with Store.open(default_store()) as store:
        for place, side in enumerate(sides, start=1):
            analysis = synthetic_analysis(f"{side}.mp4")
            review = replace(
                analysis.review,
                clip=replace(analysis.review.clip, sha256=f"{place:064x}"),
                view=CameraView(side, None, None, "given"),  # type: ignore[arg-type]  # a view's name
            )
            made = datetime(2026, 10, place, 17, tzinfo=UTC)
            number = store.save_review(review, created_at=made, client="Ada", session_on=made.date())
            files = DataFolder(data_home()).artifacts(number)
            files.folder.mkdir(parents=True)
            save_recording(replace(synthetic_recording(analysis), clip=review.clip), files.recording)
            numbers.append(number)
    opened = open_page()
    opened.query_params["after"] = str(numbers[-1])
    opened = opened.switch_page("formcheck/web/pages/compare.py").run()
    assert not opened.exception
    text = " ".join(item.value.replace("\\", "") for item in (*opened.info, *opened.warning))
    assert says(text, *words)
    # From sides that show different angles no headline claims a difference.
    assert ('class="fc-headline"' in read_page(opened)) == (sides[0] != "front")
    assert ("cannot be compared" in text) == (sides[0] == "front")
    assert says(read_page(opened), "aligned at the") == (sides[0] != "front")


def test_early_and_late_reps_and_two_reps_of_one_set(page: AppTest) -> None:
    page.segmented_control(key="cmp_kind").set_value("halves").run()
    assert not page.exception
    assert says(read_page(page), "range of motion", "early reps", "late reps")
    page.segmented_control(key="cmp_kind").set_value("reps").run()
    assert not page.exception
    page.number_input(key="cmp_rep_after_6").set_value(6).run()
    text = read_page(page).replace("\u00a0", " ")
    assert says(text, "range of motion", "21°", "rep 1", "rep 6")
    assert "±" in text


def test_one_sentence_says_why_two_sets_of_an_address_cannot_be_compared(
    stored: list[int], open_page: Callable[..., AppTest], store_review: Callable[..., int]
) -> None:
    ben = save_of("Ben", 1, 1)
    analysis = synthetic_analysis("curl.mp4")
    curl = replace(analysis.review, exercise=ExerciseRef("biceps-curl", "Biceps curl"))
    other = store_review(replace(analysis, review=curl), drawn=False)
    for number, words in ((ben, ("not of the same client",)), (other, ("one is", "curl"))):
        opened = open_page()
        opened.query_params.update(after=str(stored[-1]), before=str(number))
        opened = opened.switch_page("formcheck/web/pages/compare.py").run()
        assert not opened.exception
        (warning,) = opened.warning
        assert says(warning.value.replace("\\", ""), "cannot be compared", *words)
        assert opened.selectbox(key="cmp_client").options[0] == "Ada"
        assert "Ben" not in " ".join(item for box in opened.selectbox for item in box.options if "set" in item)


def test_an_address_holds_two_sets_of_one_client_against_each_other(
    stored: list[int], open_page: Callable[..., AppTest]
) -> None:
    opened = open_page()
    opened.query_params.update(after=str(stored[-1]), before=str(stored[2]))
    opened = opened.switch_page("formcheck/web/pages/compare.py").run()
    assert not opened.exception
    assert not opened.warning
    (before,) = (box for box in opened.selectbox if box.label == "The other set")
    assert before.value == stored[2]
    assert says(read_page(opened), "against", "21 Oct 2026:")


def test_without_landmarks_the_numbers_are_still_compared(page: AppTest, stored: list[int]) -> None:
    DataFolder(data_home()).artifacts(stored[1]).recording.unlink()
    import streamlit as st

    st.cache_resource.clear()
    page.run()
    assert not page.exception
    assert says(page.info[0].value, "no longer kept")
    assert 'data-label="Change"' in read_page(page)


@pytest.mark.parametrize("there", [True, False])
def test_how_a_film_that_is_missing_comes_about_is_told_where_its_clip_lies_there(
    formcheck_home: Path, open_page: Callable[..., AppTest], tmp_path: Path, there: bool
) -> None:
    file = tmp_path / "set.mp4"
    if there:
        file.touch()
    for place in (1, 2):
        analysis = synthetic_analysis(f"own-{place}.mp4")
        clip = replace(analysis.review.clip, sha256=f"{700 + place:064x}")
        review, made = replace(analysis.review, clip=clip), datetime(2026, 12, place, 12, tzinfo=UTC)
        with Store.open(default_store()) as store:
            number = store.save_review(review, created_at=made, client="Ben", clip_path=file)
        files = DataFolder(data_home()).artifacts(number)
        files.folder.mkdir(parents=True)
        save_recording(replace(synthetic_recording(analysis), clip=clip), files.recording)
    opened = open_page()
    opened.query_params["after"] = str(number)
    (told,) = (item.value for item in opened.switch_page("formcheck/web/pages/compare.py").run().info)
    assert says(told, "no film")
    assert ("open it once" in told) == there


def test_nothing_to_compare_is_said(open_page: Callable[..., AppTest], store_review: Callable[..., int]) -> None:
    page = open_page().switch_page("formcheck/web/pages/compare.py").run()
    assert says(page.info[0].value, "review a set")
    store_review()
    page.run()
    assert not page.exception
    assert says(page.info[0].value, "no other set")


def test_the_table_says_when_chance_alone_could_do_it() -> None:
    item = Difference(
        "range_of_motion", "range", "deg", 8, 90.0, 80.0, -10.0, 4.0, None, None, None, 5.0, 0.02, 0.2,
        "no_detectable_change", "",
    )  # fmt: skip
    margins = ({"range_of_motion": 3.0}, {"range_of_motion": 3.0})
    text = render_differences([item], ("<i>a", "b"), margins)
    assert "unsure" in text
    assert "chance alone" in text
    assert "&lt;i&gt;a" in text
    assert "90° ± 3°" in text
    assert "−10° ± 4°" in text
    text = render_differences([replace(item, call="changed")], ("a", "b"), margins)
    assert "unsure" not in text
    assert ">yes<" in text
