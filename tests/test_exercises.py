"""The exercise files: strict reading, and the facts of the trade they encode."""

import re
import tomllib
from pathlib import Path
from typing import get_args

import pytest

from formcheck.core.errors import ExerciseError, UsageError
from formcheck.core.model import ViewName
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.joints import ALL_JOINTS
from formcheck.exercises import registry
from formcheck.exercises.registry import (
    get_exercise,
    list_cautions,
    list_general_cautions,
    list_joints,
    list_own_cautions,
    load_cautions,
    load_exercise_file,
    load_exercises,
)
from formcheck.exercises.schema import Check, Driver, Exercise, Filming
from formcheck.exercises.variations import apply_variation
from formcheck.report import wording
from tests.facts import says

GOOD = (registry.FOLDER / "lateral-raise.toml").read_text(encoding="utf-8")


def changed(tmp_path: Path, old: str, new: str, name: str = "lateral-raise.toml") -> Path:
    assert old in GOOD
    path = tmp_path / name
    path.write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('position = "standing"', 'position = "standing"\ncolour = "blue"', "colour"),
        ('position = "standing"', 'position = "floating"', "position"),
        ('unit = "deg"\ncue', 'unit = "rad"\ncue', "checks.0"),
        ('unit = "deg"\n\n[[checks]]', 'unit = "s"\n\n[[checks]]', "driver.unit"),
        ('frontal = "arm_raise"', 'frontal = "arm_rise"', "driver.frontal"),
        ('"arm_elevation_peak",', '"arm_elevation_pique",', "measures.0.name"),
        ('measure = "arm_line_raise_peak"', 'measure = "elbow_flexion_max"', "checks.height.measure"),
        ('source = "lateral-raise-height"', 'source = "hearsay"', "checks.0.source"),
        ('"shoulder-height"]', '"shoulder-hight"]', "cautions.1"),
        ('"arm_elevation_peak",', '{ name = "arm_elevation_peak", views = ["above"] },', "measures.0.views.0"),
        ('"arm_line_raise_peak",', '{ name = "arm_line_raise_peak", views = [] },', "checks.height.measure"),
        ('"arm_elevation_peak",', '"arm_elevation_peak", "elbow_flexion_top",', "measures.1.views"),
        ('"arm_elevation_peak",', '"arm_elevation_peak", 3,', "measures.1"),
        ("at_least = 82.0", "at_least = 82.0\nat_most = 99.0", "checks.0"),
        ("at_least = 82.0", 'at_least = "82"', "checks.0.at_least"),
        ("at_least = 82.0", "at_least = nan", "checks.0.at_least"),
        ("fault_at = 74.0", "tolerance = -8.0", "checks.0.tolerance"),
        ("fault_at = 74.0", "fault_at = 90.0", "checks.0.fault_at"),
        ("change_at_most = 10.0", "change_at_most = -10.0", "checks.0.change_at_most"),
        ('change_word = "lower"\n', "", "checks.0.change_word"),
        ("change_at_most = 10.0\n", "", "checks.0.change_title"),
        ('id = "lateral-raise"', 'id = "lateral raise"', "id"),
        ('id = "not-above"', 'id = "height"', "checks"),
        ('summary = "', 'summary = ', None),
    ],
)  # fmt: skip
def test_anything_unknown_is_refused_by_file_and_key(tmp_path: Path, old: str, new: str, key: str | None) -> None:
    path = changed(tmp_path, old, new)
    with pytest.raises(ExerciseError) as caught:
        load_exercise_file(path)
    assert (caught.value.path, caught.value.key) == (path, key)
    assert says(str(caught.value), "lateral-raise.toml", key or "TOML")
    assert "\n" not in str(caught.value)


def test_a_measure_given_by_its_name_has_the_views_of_its_plane(tmp_path: Path) -> None:
    """A lift in the frontal plane is seen from front and back, any other from the side."""
    raised = load_exercise_file(changed(tmp_path, "", ""))
    curl = get_exercise("biceps-curl")
    assert raised.views_of("peak_speed") == ("front", "back")
    assert curl.views_of("peak_speed") == ("left", "right")
    everywhere = raised.views_of("knee_flexion_range"), curl.views_of("knee_flexion_range")
    assert everywhere == (("left", "right", "oblique"),) * 2
    given = load_exercise_file(changed(tmp_path, '"peak_speed",', '{ name = "peak_speed", views = ["oblique"] },'))
    assert given.views_of("peak_speed") == ("oblique",)
    assert [use.name for use in given.measures] == [use.name for use in raised.measures]


def test_default_views_are_of_measures_there_are() -> None:
    table = tomllib.loads((registry.FOLDER / "measures.toml").read_text(encoding="utf-8"))
    assert set(table) <= set(MEASURES)
    for views in table.values():
        lists = views.values() if isinstance(views, dict) else [views]
        assert {view for each in lists for view in each} <= set(get_args(ViewName))
        assert not isinstance(views, dict) or set(views) == {"frontal", "sagittal"}


def test_the_file_name_is_the_id(tmp_path: Path) -> None:
    with pytest.raises(ExerciseError, match=r"other\.toml: id"):
        load_exercise_file(changed(tmp_path, "82.0", "82.5", name="other.toml"))
    with pytest.raises(ExerciseError, match=r"none\.toml: cannot be read"):
        load_exercise_file(tmp_path / "none.toml")


def test_an_unknown_exercise_names_the_nearest() -> None:
    with pytest.raises(UsageError, match="lateral-raise"):
        get_exercise("latral-raise")
    with pytest.raises(UsageError, match="known are"):
        get_exercise("zzz")
    with pytest.raises(UsageError, match=r"'\.\./\.\./zzz'"):
        get_exercise("../../zzz")


def test_every_caution_is_used() -> None:
    named = {key for exercise in load_exercises().values() for key in exercise.cautions}
    assert named == {key for key, caution in load_cautions().items() if not caution.general}


def test_every_exercise_carries_the_usual_cautions() -> None:
    """Warning signs and calling for help: as health services list them; the rest is common practice."""
    for exercise in load_exercises().values():
        text = " ".join(list_cautions(exercise)).lower()
        for words in (
            "advisory only", "does not diagnose", "physiotherapist", "licensed", "rules of the gym", "instructions on",
            "pain", "chest, neck, jaw or arm", "dizziness", "faintness", "breathlessness", "numbness", "emergency help",
            "high blood pressure", "operation", "spotter", "safety stops", "warm up", "breath",
        ):  # fmt: skip
            assert words in text, (exercise.id, words)
        assert list_cautions(exercise)[: len(list_general_cautions())] == list_general_cautions()
    assert "spotter" in load_cautions()["overhead-load"].text


def test_breath_is_braced_in_squat_and_hinge_and_kept_going_for_the_heart() -> None:
    """Common practice; the rise of blood pressure with a held breath: MacDougall et al. 1985."""
    for exercise in load_exercises().values():
        own = " ".join(list_own_cautions(exercise)).lower()
        assert ("trunk firm" in own) is (exercise.id in ("squat", "hip-hinge"))
        assert ("keep breathing through" in own) is (exercise.id not in ("squat", "hip-hinge"))
    assert "heart complaint keep breathing" in " ".join(list_general_cautions())


def test_the_short_caution_is_one_sentence_with_the_way_to_all() -> None:
    for where in ("formcheck cautions", "the last section of this report"):
        text = wording.describe_caution(where)
        assert len(text.split()) <= 25
        assert text.count(".") == 1
        for words in ("stop", "pain", "chest", "dizziness", where):
            assert words in text


def test_every_exercise_names_the_joints_it_loads() -> None:
    """What each lift loads is common practice; the words are strict, and a file without any counts as all joints."""
    assert all(exercise.joints for exercise in load_exercises().values())
    for exercise, joint in (
        ("lateral-raise", "shoulder"),
        ("dumbbell-press/neutral", "shoulder"),
        ("biceps-curl", "elbow"),
        ("squat", "knee"),
        ("hip-hinge", "lower back"),
        ("bent-over-row", "lower back"),
    ):
        assert joint in list_joints(exercise)
    assert "knee" not in list_joints("lateral-raise")
    assert list_joints("an-exercise-of-long-ago") == ALL_JOINTS


@pytest.mark.parametrize(
    ("joints", "named"), [('["sholder", "neck"]', "joints.0"), ('["neck", "neck"]', "joints: 'neck' is given twice")]
)
def test_joints_are_named_in_the_one_vocabulary(tmp_path: Path, joints: str, named: str) -> None:
    with pytest.raises(ExerciseError, match=named):
        load_exercise_file(changed(tmp_path, '["shoulder", "neck"]', joints))
    load_exercise_file(changed(tmp_path, 'joints = ["shoulder", "neck"]\n', ""))  # own files may leave it out


VARIED = """
[[variations]]
id = "easy"
name = "Easy lateral raise"
summary = "The raise to a lower height."
without = ["no-swing"]
[[variations.changes]]
check = "height"
at_least = 70.0
"""


def test_a_variation_changes_what_it_says_and_nothing_else(tmp_path: Path) -> None:
    own = load_exercise_file(changed(tmp_path, GOOD, GOOD.split("[[untold]]")[0] + VARIED))
    easy = apply_variation(own, "easy")
    assert (easy.id, easy.name) == ("lateral-raise/easy", "Easy lateral raise")
    assert {item.id for item in own.checks} - {item.id for item in easy.checks} == {"no-swing"}
    limits = {item.id: item.limit for item in own.checks if item.id != "no-swing"}
    assert {item.id: item.limit for item in easy.checks} == limits | {"height": 70.0}
    assert easy.driver == own.driver


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('without = ["no-swing"]', 'without = ["no-swinging"]', "variations.easy"),
        ('check = "height"', 'check = "hight"', "variations.easy"),
        ("at_least = 70.0", "at_most = 70.0", "variations.easy.checks.0"),
        ("at_least = 70.0", 'source = "hearsay"', "variations.easy.checks.0.source"),
        ("at_least = 70.0", "colour = 1", "variations.0.changes.0.colour"),
        ('id = "easy"', 'id = "so easy"', "variations.0.id"),
    ],
)
def test_a_variation_that_does_not_fit_is_refused(tmp_path: Path, old: str, new: str, key: str) -> None:
    assert old in VARIED
    text = GOOD.split("[[untold]]")[0] + VARIED.replace(old, new)
    with pytest.raises(ExerciseError) as caught:
        load_exercise_file(changed(tmp_path, GOOD, text))
    assert caught.value.key == key
    assert says(str(caught.value), "lateral-raise.toml", key)


def test_every_exercise_has_variations_that_read_and_a_wrong_one_names_the_right_ones() -> None:
    for exercise in load_exercises().values():
        assert exercise.variations, exercise.id
        for variation in exercise.variations:
            found = get_exercise(f"{exercise.id}/{variation.id}")
            assert found.name == variation.name
            assert found.id == f"{exercise.id}/{variation.id}"
            assert found.summary.endswith(".")
    with pytest.raises(UsageError, match="it has rear-shoulder, mid-back"):
        get_exercise("bent-over-lateral-raise/front-shoulder")


def check(exercise: str, check_id: str) -> Check:
    return next(item for item in get_exercise(exercise).checks if item.id == check_id)


# Facts of the trade (common practice): which side of which limit, seen from where.
@pytest.mark.parametrize(
    ("exercise", "check_id", "kind", "lowest", "highest", "views"),
    [
        ("bent-over-lateral-raise", "torso-parallel", "at_least", 70, 90, "left right oblique"),
        ("bent-over-lateral-raise", "torso-still", "at_most", 3, 12, "left right oblique"),
        ("bent-over-lateral-raise", "knees-bent", "at_least", 5, 30, "left right oblique"),
        ("bent-over-lateral-raise", "arms-high", "at_least", 70, 90, "front back oblique"),
        ("bent-over-lateral-raise", "arms-hang", "at_most", 5, 20, "front back"),
        ("bent-over-lateral-raise", "arms-long", "at_most", 15, 40, "front"),
        ("guided-bar-press", "down-to-chest", "at_most", 0, 0.5, "front back"),
        ("guided-bar-press", "to-arms-length", "at_most", 10, 30, "front"),
        ("guided-bar-press", "short-pause", "at_most", 0.5, 3, "front back left right oblique"),
        ("guided-bar-press", "grip-not-narrow", "at_least", 1.1, 1.6, "front back"),
        ("guided-bar-press", "bar-close", "at_most", 0.3, 1.2, "left right"),
        ("overhead-lateral-raise", "overhead", "at_least", 130, 145, "front back oblique"),
        ("overhead-lateral-raise", "elbows-soft", "at_most", 15, 45, "left right"),
        ("overhead-lateral-raise", "no-lean", "at_most", 3, 12, "left right oblique"),
        ("overhead-lateral-raise", "no-side-lean", "at_most", 3, 12, "front back"),
        ("overhead-lateral-raise", "brief-pause", "at_most", 0.5, 2, "front back left right oblique"),
        ("lateral-raise", "height", "at_least", 80, 92, "front back oblique"),
        ("lateral-raise", "no-swing", "at_most", 3, 12, "left right oblique"),
        ("dumbbell-press", "weights-at-shoulders", "at_most", 0, 0.5, "front back left right oblique"),
        ("dumbbell-press", "to-arms-length", "at_most", 10, 30, "front oblique"),
        ("turning-palm-press", "elbows-not-behind", "at_least", -0.1, 0.1, "left right"),
        ("turning-palm-press", "elbows-not-far-ahead", "at_most", 0.3, 0.8, "left right"),
        ("turning-palm-press", "torso-upright", "at_most", 5, 20, "left right oblique"),
        ("machine-reverse-fly", "open-wide", "at_least", 80, 95, "left right"),
        ("machine-reverse-fly", "arms-level", "at_least", 70, 90, "front back"),
        ("machine-reverse-fly", "chest-on-pad", "at_most", 3, 10, "left right oblique"),
        ("bench-lateral-raise", "arms-high", "at_least", 70, 90, "front back oblique"),
        ("bench-lateral-raise", "arms-hang", "at_most", 5, 20, "front back"),
        ("bench-lateral-raise", "chest-down", "at_most", 3, 10, "left right oblique"),
        ("front-raise", "height", "at_least", 80, 92, "left right"),
        ("front-raise", "no-swing", "at_most", 3, 12, "left right oblique"),
        ("squat", "depth", "at_least", 80, 95, "front left oblique right"),
        ("squat", "knees-out", "at_least", 0.7, 1.0, "front back"),
        ("squat", "stance-not-narrow", "at_least", 0.7, 1.0, "front back oblique"),
        ("hip-hinge", "far-over", "at_least", 45, 80, "left right oblique"),
        ("hip-hinge", "knees-soft", "at_most", 25, 45, "left right oblique"),
        ("biceps-curl", "all-the-way-up", "at_least", 110, 143, "left right oblique"),
        ("biceps-curl", "elbow-still", "at_most", 10, 35, "left right"),
        ("bent-over-row", "pulled-in", "at_most", 5, 30, "left right"),
        ("bent-over-row", "torso-over", "at_least", 40, 75, "left right oblique"),
        ("bent-over-row", "knees-bent", "at_least", 5, 30, "left right oblique"),
    ],
)  # fmt: skip
def test_facts_of_the_trade(exercise: str, check_id: str, kind: str, lowest: float, highest: float, views: str) -> None:
    item = check(exercise, check_id)
    assert lowest <= item.limit <= highest
    assert (item.at_least is not None) == (kind == "at_least")
    assert set(get_exercise(exercise).views_for(item)) == set(views.split())


# Facts of the trade (common practice): what is lifted first, and which way.
def test_squat_and_hinge_begin_with_the_lowering_and_everything_else_with_the_lift() -> None:
    for exercise in load_exercises().values():
        lowers_first = exercise.id in {"squat", "hip-hinge"}
        assert (exercise.driver.first == "eccentric") == lowers_first
        assert (exercise.driver.concentric == "falling") == lowers_first
        assert exercise.driver.moves_shoulders == lowers_first


def test_back_and_knee_cautions_stand_where_they_belong() -> None:
    for exercise, words in {
        "squat": ("knee", "back", "safety bars"),
        "hip-hinge": ("lower back", "flat"),
        "bent-over-row": ("lower back", "flat", "knees bent"),
        "bench-lateral-raise": ("breathing",),
        "dumbbell-press": ("spotter",),
        "turning-palm-press": ("spotter",),
    }.items():
        text = " ".join(list_own_cautions(get_exercise(exercise)))
        assert all(word in text for word in words), exercise


def test_what_no_camera_gives_is_said_and_not_measured() -> None:
    for exercise, words in {
        "machine-reverse-fly": "shoulder blades",
        "bench-lateral-raise": "shoulder blades",
        "bent-over-row": "curve of the back",
        "squat": "curve of the back",
        "hip-hinge": "curve of the back",
    }.items():
        advice = get_exercise(exercise).filming.advice
        assert words in advice
        assert re.search(r"(is|are) not measured from any side", advice)


# Common practice: what one sees standing beside the lifter and no landmark shows.
@pytest.mark.parametrize(
    ("exercise", "words"),
    [
        ("bent-over-lateral-raise", "Back stays flat"),
        ("bent-over-lateral-raise/rear-shoulder", "Upper back stays wide"),
        ("bent-over-lateral-raise/mid-back", "Shoulder blades move in to the spine"),
        ("machine-reverse-fly", "shoulder blades"),
        ("squat", "Heels stay down"),
        ("turning-palm-press", "pushed past straight"),
        ("turning-palm-press", "Palms towards you at the bottom"),
        ("turning-palm-press", "When the palms turn"),
        ("lateral-raise", "Shoulders stay down"),
    ],
)
def test_what_no_camera_tells_stands_in_the_exercise(exercise: str, words: str) -> None:
    points = get_exercise(exercise).untold
    assert any(words in f"{point.title} {point.reason}" for point in points)
    assert all("not measured" in point.reason for point in points)


def test_grip_limits_hold_10_to_15_cm_beyond_the_shoulders() -> None:
    """Biacromial breadth of men 41.6 cm, women 36.5 cm (ANSUR II means; Gordon et al. 2014, NATICK/TR-15/007)."""
    narrow, wide = check("guided-bar-press", "grip-not-narrow"), check("guided-bar-press", "grip-not-wide")
    for biacromial in (41.6, 36.5):
        for beyond in (10.0, 15.0):
            assert narrow.limit <= (biacromial + beyond) / biacromial <= wide.limit


def test_texts_are_sentences_and_name_nobody() -> None:
    for exercise in load_exercises().values():
        for text in (exercise.summary, exercise.filming.advice, *(item.cue for item in exercise.checks)):
            assert text.endswith("."), text
            assert not re.search(r"[®™]", text)


def every_cue() -> list[str]:
    """The cues of all exercises and variations, each exercise's own as often as it stands there."""
    found = []
    for exercise in load_exercises().values():
        found += [item.cue for item in exercise.checks]
        for variation in exercise.variations:
            found += [item.cue for item in (*variation.checks, *variation.changes) if item.cue]
    return found


def test_cues_are_short_enough_to_keep_in_mind() -> None:
    """One thing to do, in few words, that holds in the next set too (common practice among coaches)."""
    cues = every_cue()
    assert len(cues) > 100
    assert [cue for cue in cues if len(cue.split()) > 14] == []
    assert [cue for cue in cues if re.search(r"\b(end|stop) (the|this) set\b|\bhere\b", cue)] == []


def test_no_cue_asks_for_less_load() -> None:
    """A fault is named in the body; of less load speaks the next cue alone, where the range is lost."""
    lighter = re.compile(r"\b(light|small|easi)er\b|\b(less|drop|off)\b.*\b(load|weight)|\b(load|weight)\b.* off\b")
    assert [cue for cue in every_cue() if lighter.search(cue)] == []


def test_the_example_of_the_page_on_own_exercises_reads_and_every_key_is_explained(root: Path, tmp_path: Path) -> None:
    page = (root / "docs" / "own-exercise.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", page, flags=re.S)
    path = tmp_path / "leaning-raise.toml"
    path.write_text(example, encoding="utf-8")
    exercise = load_exercise_file(path)
    assert exercise.id == "leaning-raise"
    assert [check.id for check in exercise.checks] == ["height"]
    rows = re.findall(r"^\|(.*?)\|", page, flags=re.M)
    named = {word for row in rows for name in re.findall(r"`([\w.]+)`", row) for word in name.split(".")}
    keys = {name for model in (Exercise, Filming, Driver, Check) for name in model.model_fields} - {"measure_was"}
    assert keys - named == set()
