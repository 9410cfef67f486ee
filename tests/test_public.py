"""The interface for programs: what it offers, that it stays as it is, and that its examples run."""

import dataclasses
import doctest
import inspect
import os
import subprocess
import sys
from pathlib import Path

import pytest

import formcheck
import formcheck.public

RECORDING = "tools/benchmarks/recordings/plain/lateral_raise_front_1_4.npz"

# Frozen: a program written against it goes on working. Adding is fine, with a line here; all else is a new version.
SURFACE = {
    "analyse": "(landmarks: LandmarkRecording, exercise: str | Exercise, *, view: ViewHint = 'auto', "
    "set_info: SetInfo | None = None, settings: Settings | None = None) -> Analysis",
    "find_landmarks": "(clip: File, *, keep_in: File | None = None, on_progress: Progress | None = None) "
    "-> LandmarkRecording",
    "list_exercises": "() -> tuple[str, ...]",
    "load_exercise": "(exercise: File) -> Exercise",
    "read_landmarks": "(path: File) -> LandmarkRecording",
    "read_review": "(path: File) -> Review",
    "review_clip": "(clip: File, exercise: str | Exercise, *, view: ViewHint = 'auto', "
    "set_info: SetInfo | None = None, settings: Settings | None = None, keep_in: File | None = None, "
    "on_progress: Progress | None = None) -> Analysis",
    "write_landmarks": "(landmarks: LandmarkRecording, path: File) -> None",
    "write_review": "(review: Review, path: File) -> None",
}
# Fields a program may read; more may come.
FIELDS = {
    "Analysis": "review signals driver driver_name",
    "Finding": "check verdict reps measure value limit at_s text basis",
    "LandmarkRecording": "clip pose_model t pixels world visibility",
    "Measure": "name side rep value margin unit missing_reason",
    "Rep": "number start_s top_s end_s complete tempo",
    "Review": "clip pose_model exercise set_info view quality reps measures findings cautions",
    "SetInfo": "load_kg target_reps",
    "Settings": "cutoff_hz max_gap_s phase_speed_fraction partial_below min_visibility",
}
OTHERS = {"Exercise", "FormcheckError", "__version__"}


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
    assert set(formcheck.__all__) == set(SURFACE) | set(FIELDS) | OTHERS
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
        assert str(caught.value)[:1].isupper() or ".toml: " in str(caught.value)


def test_an_own_exercise_file_is_used(root: Path, tmp_path: Path) -> None:
    shipped = root / "formcheck" / "exercises" / "lateral-raise.toml"
    own = tmp_path / "lateral-raise.toml"
    text = shipped.read_text(encoding="utf-8")
    assert "at_least = 82.0" in text
    own.write_text(text.replace("at_least = 82.0", "at_least = 120.0", 1), encoding="utf-8")
    seen = formcheck.read_landmarks(root / RECORDING)
    mine = formcheck.analyse(seen, formcheck.load_exercise(own)).review
    assert {item.limit for item in mine.findings if item.check == "height"} == {120.0}
    assert [item.verdict for item in mine.findings if item.check == "height"] == ["not_met"]


def test_landmarks_written_are_read_to_the_bit(root: Path, tmp_path: Path) -> None:
    seen = formcheck.read_landmarks(root / RECORDING)
    formcheck.write_landmarks(seen, tmp_path / "seen.npz")
    again = formcheck.read_landmarks(tmp_path / "seen.npz")
    for name in ("t", "pixels", "world", "visibility"):
        assert getattr(again, name).tobytes() == getattr(seen, name).tobytes(), name
    assert (again.clip, again.pose_model) == (seen.clip, seen.pose_model)
