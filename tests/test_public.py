"""The interface for programs: what it offers, that it stays as it is, and that its examples run."""

import dataclasses
import doctest
import inspect
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import get_args, get_type_hints

import pytest

import formcheck
import formcheck.public
from tests.own_exercise import HEIGHT_DEG, ID, write_own
from tests.pairing.sets import Plan, filmed, lateral

RECORDING = "tools/benchmarks/recordings/shipped/lateral_raise_front_clean.npz"

# Frozen: a program written against it goes on working. Adding is fine, with a line here; all else is a new version.
SURFACE = {
    "analyse": "(landmarks: LandmarkRecording, exercise: str | Exercise, *, view: ViewHint = 'auto', "
    "set_info: SetInfo | None = None, settings: Settings | None = None, second: LandmarkRecording | None = None, "
    "second_view: ViewHint = 'auto', same_set: bool = False) -> Analysis",
    "find_landmarks": "(clip: File, *, keep_in: File | None = None, on_progress: Progress | None = None) "
    "-> LandmarkRecording",
    "list_exercises": "() -> tuple[str, ...]",
    "load_exercise": "(exercise: str | PathLike[str]) -> Exercise",
    "read_landmarks": "(path: File) -> LandmarkRecording",
    "read_review": "(path: File) -> Review",
    "review_clip": "(clip: File, exercise: str | Exercise, *, view: ViewHint = 'auto', "
    "set_info: SetInfo | None = None, settings: Settings | None = None, keep_in: File | None = None, "
    "on_progress: Progress | None = None, second: File | None = None, second_view: ViewHint = 'auto', "
    "same_set: bool = False) -> Analysis",
    "suggest_exercise": "(landmarks: LandmarkRecording, exercises: Iterable[Exercise] | None = None) -> Suggestion",
    "write_landmarks": "(landmarks: LandmarkRecording, path: File) -> None",
    "write_review": "(review: Review, path: File) -> None",
}
# Fields a program may read; more may come.
FIELDS = {
    "Analysis": "review signals driver driver_name",
    "CameraView": "name yaw_deg yaw_margin_deg origin known",
    "ClipDamage": "read_s length_s",
    "ClipInfo": "name sha256 width height duration_s frames frame_rate variable_rate codec",
    "ClipPart": "start_s end_s reps view",
    "ExerciseRef": "id name",
    "Finding": "check verdict reps measure value limit at_s text basis grade probability margin kind",
    "LandmarkRecording": "clip pose_model t pixels world visibility scene damage",
    "Measure": "name side rep value margin unit missing_reason",
    "Message": "code parameters",
    "Point": "check kind verdict grade probability reps beyond",
    "PoseModelInfo": "name sha256 every_picture",
    "Quality": "tracked_share frame_rate subject_height_px out_of_frame low_visibility notes problems",
    "QualityProblem": "code parameters",
    "ReferenceComparison": "clip_name clip_sha256 rep session_on yaw_difference_deg yaw_margin_deg alike differences",
    "ReferenceDifference": "measure side unit reference difference margin told reps by_rep rep_margin",
    "Rep": "number start_s top_s end_s complete tempo",
    "Review": "clip pose_model exercise set_info view quality reps measures findings cautions second parts points "
    "measures_version reference",
    "Scene": "others doubtful cuts",
    "SecondCamera": "clip view quality offset_s offset_margin_s confidence found_by reps_from",
    "SetInfo": "load_kg target_reps",
    "Settings": "cutoff_hz max_gap_s phase_speed_fraction partial_below min_visibility",
    "Signals": "t series sd body_missing",
    "Suggestion": "ranked view alike reasons problems",
    "Tempo": "eccentric_s bottom_pause_s concentric_s top_pause_s",
}
ERRORS = {
    "ClipError",
    "ExerciseError",
    "FormcheckError",
    "OutputError",
    "PairingError",
    "PoseModelError",
    "RecordingError",
    "ReviewFormatError",
    "UnclearPairError",
    "UsageError",
}
OTHERS = {"Exercise", "Progress", "ViewHint", "__version__"}


def told(name: str) -> str:
    """The signature as its source writes it."""
    source = inspect.getsource(getattr(formcheck, name))
    head = source[source.index("(") : source.index(":\n")]
    return (
        " ".join(head.replace("\n", " ").split())
        .replace("( ", "(")
        .replace(", )", ")")
        .replace(" )", ")")
        .replace('"', "'")
    )


def test_names_are_those_listed() -> None:
    assert set(formcheck.__all__) == set(SURFACE) | set(FIELDS) | ERRORS | OTHERS
    assert set(dir(formcheck)) == set(formcheck.__all__)
    for name in formcheck.__all__:
        assert getattr(formcheck, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'analyze'"):
        _ = formcheck.analyze  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", SURFACE)
def test_signatures_are_frozen(name: str) -> None:
    assert told(name) == SURFACE[name]
    assert inspect.getdoc(getattr(formcheck, name))


@pytest.mark.parametrize("name", FIELDS)
def test_fields_are_there(name: str) -> None:
    have = [field.name for field in dataclasses.fields(getattr(formcheck, name))]
    assert [field for field in FIELDS[name].split() if field not in have] == []


def test_every_noun_that_is_handed_out_has_its_name() -> None:
    """From what the functions return, field by field: each class of formcheck's own is in the interface."""
    functions = [getattr(formcheck, name) for name in SURFACE]
    todo = [part for function in functions for part in parts_of(get_type_hints(function)["return"])]
    seen: set[type] = set()
    while todo:
        kind = todo.pop()
        if kind in seen or kind is formcheck.Exercise:  # an exercise is described by its own file format
            continue
        seen.add(kind)
        todo += [part for hint in get_type_hints(kind).values() for part in parts_of(hint)]
    assert len(seen) >= 20
    assert {kind.__name__ for kind in seen} - set(formcheck.__all__) == set()


def parts_of(hint: object) -> list[type]:
    """The data classes of a type hint."""
    inner = [part for argument in get_args(hint) for part in parts_of(argument)]
    return [*inner, hint] if isinstance(hint, type) and dataclasses.is_dataclass(hint) else inner


def test_every_function_says_what_it_raises() -> None:
    for name in SURFACE:
        text = " ".join((inspect.getdoc(getattr(formcheck, name)) or "").split())
        assert "raises" in text.lower(), name
    documented = " ".join(inspect.getdoc(getattr(formcheck, name)) or "" for name in SURFACE)
    for error in ERRORS - {"FormcheckError"}:
        assert issubclass(getattr(formcheck, error), formcheck.FormcheckError)
        assert error in documented, error


def test_examples_run(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(root)
    ran = [doctest.testmod(module, report=True) for module in (formcheck, formcheck.public)]
    assert [result.failed for result in ran] == [0, 0]
    assert sum(result.attempted for result in ran) >= 15


def test_every_function_without_a_clip_has_an_example_or_is_used_in_one() -> None:
    shown = " ".join(inspect.getdoc(getattr(formcheck, name)) or "" for name in SURFACE)
    for name in set(SURFACE) - {"find_landmarks", "review_clip", "write_landmarks"}:
        assert f"formcheck.{name}(" in shown, name


def test_importing_loads_nothing_but_itself(root: Path) -> None:
    code = (
        "import sys, formcheck; print(formcheck.__version__, 'numpy' in sys.modules, 'formcheck.public' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.split() == [formcheck.__version__, "False", "False"]


def test_a_type_checker_sees_the_types(root: Path, tmp_path: Path) -> None:
    """A program with a mistake in it: mypy, strict, names that mistake and nothing else."""
    program = tmp_path / "program.py"
    program.write_text(
        "import formcheck\n"
        f'review = formcheck.analyse(formcheck.read_landmarks("{RECORDING}"), "lateral-raise").review\n'
        "times: list[float] = [rep.top_s for rep in review.reps]\n"
        "wrong: str = review.reps[0].number\n",
        encoding="utf-8",
    )
    command = [
        sys.executable,
        "-m",
        "mypy",
        "--strict",
        "--config-file",
        os.devnull,
        "--cache-dir",
        str(tmp_path / "c"),
    ]
    command += ["--ignore-missing-imports", "--follow-imports=silent", str(program)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, env=_with(root))
    errors = [line for line in done.stdout.splitlines() if ": error:" in line]
    assert len(errors) == 1, done.stdout
    assert ':4: error: Incompatible types in assignment (expression has type "int"' in errors[0]


def _with(root: Path) -> dict[str, str]:
    return {**os.environ, "MYPYPATH": str(root)}


def test_expected_errors_are_one_family(tmp_path: Path) -> None:
    broken = tmp_path / "review.json"
    broken.write_text("{}", encoding="utf-8")
    tries = (
        lambda: formcheck.read_review(broken),
        lambda: formcheck.read_review(tmp_path / "none.json"),
        lambda: formcheck.read_landmarks(tmp_path / "none.npz"),
        lambda: formcheck.load_exercise("no-such-exercise"),
        lambda: formcheck.load_exercise(tmp_path / "none.toml"),
        lambda: formcheck.find_landmarks(tmp_path / "none.mp4"),
        lambda: formcheck.review_clip(tmp_path / "none.mp4", "no-such-exercise"),
    )
    for attempt in tries:
        with pytest.raises(formcheck.FormcheckError) as caught:
            attempt()
        assert "\n" not in str(caught.value)
        assert str(caught.value)[:1].isupper()


@pytest.mark.parametrize(
    ("name", "content", "read", "key"),
    [
        ("review.json", "{}", formcheck.read_review, "$.schema"),
        ("none.json", None, formcheck.read_review, None),
        ("none.npz", None, formcheck.read_landmarks, None),
        ("damaged.npz", "no archive", formcheck.read_landmarks, None),
        ("none.mp4", None, formcheck.find_landmarks, None),
        ("empty.mp4", "", formcheck.find_landmarks, None),
        ("none.toml", None, formcheck.load_exercise, None),
        ("bad.toml", "id = 3", formcheck.load_exercise, "id"),
        ("half.toml", "id = ", formcheck.load_exercise, None),
    ],
)
def test_errors_name_file_and_place(
    tmp_path: Path, name: str, content: str | None, read: Callable[[Path], object], key: str | None
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_text(content, encoding="utf-8")
    with pytest.raises(formcheck.FormcheckError) as caught:
        read(path)
    assert (caught.value.path, caught.value.key) == (path, key)
    again = pickle.loads(pickle.dumps(caught.value))
    assert (type(again), str(again), again.path, again.key) == (
        type(caught.value), str(caught.value), path, key)  # fmt: skip


def test_a_file_that_cannot_be_written_is_named(root: Path, tmp_path: Path) -> None:
    seen = formcheck.read_landmarks(root / RECORDING)
    (tmp_path / "file").touch()
    path = tmp_path / "file" / "set.json"
    with pytest.raises(formcheck.OutputError) as caught:
        formcheck.write_review(formcheck.analyse(seen, "lateral-raise").review, path)
    assert caught.value.path == path
    with pytest.raises(formcheck.RecordingError) as written:
        formcheck.write_landmarks(seen, path.with_suffix(".npz"))
    assert written.value.path == path.with_suffix(".npz")


def test_a_path_is_a_file_and_a_text_an_id(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(formcheck.UsageError):
        formcheck.load_exercise("no-such-raise")
    for file in ("no-such-raise.toml", Path("no-such-raise.toml"), Path("lateral-raise")):
        with pytest.raises(formcheck.ExerciseError) as caught:
            formcheck.load_exercise(file)
        assert caught.value.path == Path(file)


def test_two_recordings_of_one_set_are_one_review() -> None:
    """An invented figure's set, filmed from the front and, 0.8 s later, from its left (tests/pairing/sets.py)."""
    first, second = filmed(Plan(), lateral, yaw=0.0), filmed(Plan(), lateral, yaw=90.0, begins=0.8, seed=1)
    review = formcheck.analyse(first, "lateral-raise", second=second, second_view="left").review
    assert review.second is not None
    assert review.second.offset_s == pytest.approx(0.8, abs=0.05)
    assert (review.second.view.name, review.second.view.origin) == ("left", "given")
    other = Plan(up=(2.0, 0.7, 1.4), held=(0.1, 0.9, 0.2), down=(0.8, 2.1, 1.1), waited=(0.9, 0.2, 0.5), far=(1, 1, 1))
    with pytest.raises(formcheck.PairingError):
        formcheck.analyse(first, "lateral-raise", second=filmed(other, lateral, yaw=90.0, seed=2))


def test_two_clips_of_which_one_is_missing(root: Path, tmp_path: Path) -> None:
    clip = next((root / "clips_demo").glob("*.mp4"))
    with pytest.raises(formcheck.ClipError) as caught:
        formcheck.review_clip(tmp_path / "none.mp4", "lateral-raise", second=clip)
    assert caught.value.path == tmp_path / "none.mp4"


def test_a_suggestion_is_made_from_the_exercises_given(root: Path) -> None:
    seen = formcheck.read_landmarks(root / RECORDING)
    assert formcheck.suggest_exercise(seen).exercise_id == "lateral-raise"
    only = formcheck.suggest_exercise(seen, [formcheck.load_exercise("squat")])
    assert {name for name, _ in only.ranked} <= {"squat"}
    assert only.exercise_id is None


def test_an_own_exercise_file_is_used(root: Path, tmp_path: Path) -> None:
    own = write_own(tmp_path)
    seen = formcheck.read_landmarks(root / RECORDING)
    mine = formcheck.analyse(seen, formcheck.load_exercise(own)).review
    assert {item.limit for item in mine.findings if item.check == "height"} == {HEIGHT_DEG}
    assert [item.verdict for item in mine.findings if item.check == "height"] == ["not_met"]


def test_own_files_are_known_where_they_are_given_alone(tmp_path: Path, formcheck_home: Path, root: Path) -> None:
    """A program sees the same exercises whatever lies in the data folder of whoever runs it."""
    write_own(formcheck_home / "exercises")
    code = "import formcheck; print(*formcheck.list_exercises())"
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert ID not in done.stdout.split()
    assert "squat" in done.stdout.split()


def test_landmarks_written_are_read_to_the_bit(root: Path, tmp_path: Path) -> None:
    seen = formcheck.read_landmarks(root / RECORDING)
    formcheck.write_landmarks(seen, tmp_path / "seen.npz")
    again = formcheck.read_landmarks(tmp_path / "seen.npz")
    for name in ("t", "pixels", "world", "visibility"):
        assert getattr(again, name).tobytes() == getattr(seen, name).tobytes(), name
    assert (again.clip, again.pose_model) == (seen.clip, seen.pose_model)
