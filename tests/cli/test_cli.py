"""The command line: what it prints, writes and keeps, and how it refuses."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result

from formcheck.codec import SCHEMA_PATH, decode
from formcheck.exercises.registry import load_exercises
from formcheck.store import Store

Run = Callable[..., Result]
SAMPLE = Path(__file__).parents[1] / "data" / "review_v1.json"


def good(result: Result) -> str:
    assert result.exit_code == 0, result.output
    return result.stdout.replace("\N{NO-BREAK SPACE}", " ")


def sentence(result: Result, code: int) -> str:
    """The one sentence of a refusal."""
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, lines
    assert lines[0].startswith("formcheck: ")
    assert lines[0].endswith((".", "?"))
    return lines[0]


def kept(home: Path) -> int:
    if not (home / "reviews.sqlite").exists():
        return 0
    with Store.open(home / "reviews.sqlite") as store:
        return store.check()


# ---------------------------------------------------------------- review


def test_a_review_is_printed_and_kept(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--load", "7.5", "--target-reps", "4")
    out = good(result)
    assert "set.mp4" in out
    assert "7.5 kg" in out
    assert "4 complete reps (target 4)" in out
    tempo = r"(\d+\.\d-(?:\d+\.\d|·)(?:-\d+\.\d){2})"
    rows = re.findall(rf"^(\d) +(0:\d\d\.\d) +(0:\d\d\.\d) +{tempo}", out, flags=re.MULTILINE)
    assert [row[0] for row in rows] == ["1", "2", "3", "4"]
    assert re.search(r"left \d+° ± \d+°", out)
    assert "Advisory only" in out
    assert "Not measured in this clip" in out
    assert "Kept as review 1" in out
    assert result.stderr == ""
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        (row,) = store.list_reviews()
        assert (row.load_kg, row.target_reps, row.complete_reps) == (7.5, 4, 4)
        assert row.clip_path == str(clip)


def test_the_findings_say_moment_margin_and_basis(run: Run, clip: Path, estimator: Any) -> None:
    out = good(run("review", clip, "--exercise", "overhead-lateral-raise", "--view", "front", "--no-save"))
    assert "To change" in out  # the made-up lifter stops at shoulder height
    change = out.split("To change")[1].split("\n\n")[0]
    assert re.search(r"\d+° ± \d+°", change)
    assert re.search(r"0:\d\d\.\d in the\s+clip", change)
    assert re.search(r"\[1\]", change)
    assert "Where the limits come from" in out


def test_no_save_keeps_nothing(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    assert "Kept" not in good(run("review", clip, "--exercise", "lateral-raise", "--no-save")).split("Please note")[1]
    assert kept(formcheck_home) == 0


def test_json_to_standard_output_is_alone_there(run: Run, clip: Path, estimator: Any) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--json", "-")
    written = json.loads(good(result))
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(written)
    assert len(written["reps"]) == 4
    assert "Kept as review 1" in result.stderr


def test_all_files_are_written_beside_the_table(run: Run, clip: Path, estimator: Any) -> None:
    files = {"--json": clip.parent / "a.json", "--report": clip.parent / "a.html", "--overlay": clip.parent / "a.mp4"}
    wish = [part for pair in files.items() for part in pair]
    out = good(run("review", clip, "--exercise", "lateral-raise", "--view", "side", *wish))
    assert {path.name for path in clip.parent.iterdir()} == {"set.mp4", "a.json", "a.html", "a.mp4"}
    for path in files.values():
        assert f"Written: {path}" in out
    assert decode(files["--json"].read_bytes()).view.name in ("left", "right")


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--exercise", "latral-raise"], "did you mean lateral-raise"),
        (["--exercise", "lateral-raise", "--report", "a.pdf"], "--report"),
        (["--exercise", "lateral-raise", "--overlay", "a.html", "--report", "a.html"], "--overlay"),
    ],
)
def test_bad_use_is_one_sentence(run: Run, clip: Path, estimator: Any, options: list[str], says: str) -> None:
    assert says in sentence(run("review", clip, *options), 2)
    assert estimator.seen == 0


@pytest.mark.parametrize(
    "options",
    [
        ["--exercise", "lateral-raise", "--load", "-1"],
        ["--exercise", "lateral-raise", "--load", "nan"],
        ["--exercise", "lateral-raise", "--load", "inf"],
        ["--exercise", "lateral-raise", "--load", "heavy"],
        ["--exercise", "lateral-raise", "--target-reps", "0"],
        ["--exercise", "lateral-raise", "--target-reps", "2.5"],
        ["--exercise", "lateral-raise", "--view", "above"],
        ["--exercise", "lateral-raise", "--no-save", "--store", "x.sqlite"],
        ["--exercise", "lateral-raise", "--nonsense"],
        ["--exercise", "lateral-raise", "second.mp4"],
    ],
)
def test_bad_options_exit_with_two(run: Run, clip: Path, estimator: Any, options: list[str]) -> None:
    result = run("review", clip, *options)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Error: " in result.stderr
    assert estimator.seen == 0


def test_what_is_no_clip_is_one_sentence(run: Run, tmp_path: Path, estimator: Any, formcheck_home: Path) -> None:
    (tmp_path / "letter.mp4").write_text("Dear reader, " * 100)
    (tmp_path / "empty.mp4").touch()
    for name in ("letter.mp4", "empty.mp4", "missing.mp4", "."):
        sentence(run("review", tmp_path / name, "--exercise", "lateral-raise"), 1)
    assert kept(formcheck_home) == 0


def test_a_pose_model_that_is_none_is_one_sentence(run: Run, clip: Path, tmp_path: Path) -> None:
    (tmp_path / "model.task").write_text("not a model")
    for name in ("model.task", "missing.task"):
        sentence(run("review", clip, "--exercise", "lateral-raise", "--pose-model", tmp_path / name), 1)


@pytest.mark.parametrize("option", ["--json", "--report", "--overlay"])
def test_an_unwritable_place_is_found_before_the_work(run: Run, clip: Path, estimator: Any, option: str) -> None:
    ending = {"--json": "json", "--report": "html", "--overlay": "mp4"}[option]
    place = clip.parent / "no-such-folder" / f"a.{ending}"
    assert "cannot be written" in sentence(run("review", clip, "--exercise", "lateral-raise", option, place), 1)
    assert estimator.seen == 0


def test_a_store_that_cannot_be_opened_is_found_before_the_work(run: Run, clip: Path, estimator: Any) -> None:
    (clip.parent / "store.sqlite").write_text("Dear reader, " * 100)
    result = run("review", clip, "--exercise", "lateral-raise", "--store", clip.parent / "store.sqlite")
    assert "store" in sentence(result, 1)
    assert estimator.seen == 0


def test_a_clip_without_the_exercise_is_a_review_without_reps(run: Run, make_clip: Any, tmp_path: Path) -> None:
    """The real pose model looks at an empty room."""
    room = make_clip(tmp_path / "room.mp4", seconds=2)
    out = good(run("review", room, "--exercise", "lateral-raise"))
    assert "No reps of this exercise were found" in out


# ---------------------------------------------------------------- interruption and bugs


def test_ctrl_c_ends_neatly(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    def stop(picture: int) -> None:
        if picture == 50:
            raise KeyboardInterrupt

    estimator.on_picture = staticmethod(stop)
    result = run("review", clip, "--exercise", "lateral-raise", "--json", clip.parent / "a.json")
    assert sentence(result, 130) == "formcheck: stopped."
    assert {path.name for path in clip.parent.iterdir()} == {"set.mp4"}
    assert kept(formcheck_home) == 0


def test_ctrl_c_while_drawing_leaves_no_half_film(
    run: Run, clip: Path, estimator: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(_clip: Path, _recording: object, out: Path, **_other: object) -> None:
        out.write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setattr("formcheck.report.overlay.write_overlay", stop)
    sentence(run("review", clip, "--exercise", "lateral-raise", "--overlay", clip.parent / "a.mp4"), 130)
    assert {path.name for path in clip.parent.iterdir()} == {"set.mp4"}


def test_a_bug_is_one_sentence_and_a_trace_on_demand(
    run: Run, clip: Path, estimator: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(_picture: int) -> None:
        raise ZeroDivisionError("made up\nfor this test")

    estimator.on_picture = staticmethod(wrong)
    assert "ZeroDivisionError: made up for this test" in sentence(run("review", clip, "--exercise", "lateral-raise"), 1)
    monkeypatch.setenv("FORMCHECK_DEBUG", "1")
    result = run("review", clip, "--exercise", "lateral-raise")
    assert isinstance(result.exception, ZeroDivisionError)


# ---------------------------------------------------------------- exercises and show


def test_exercises_lists_them_all(run: Run) -> None:
    out = good(run("exercises"))
    for exercise in load_exercises().values():
        assert re.search(rf"^{exercise.id} +{re.escape(exercise.name)} +", out, flags=re.MULTILINE)


@pytest.mark.parametrize("exercise_id", list(load_exercises()))
def test_show_explains_every_measure_limit_and_caution(run: Run, exercise_id: str) -> None:
    out = " ".join(good(run("show", exercise_id)).split())
    exercise = load_exercises()[exercise_id]
    assert exercise.summary in out
    assert exercise.filming.advice in out
    for use in exercise.measures:
        assert use.name in out
    for check in exercise.checks:
        assert check.title in out
        assert check.cue in out
    assert out.count("Basis: ") == len(exercise.checks)
    assert out.count("seen from ") == len(exercise.checks)
    assert "(tolerance " in out
    assert "Advisory only" in out


def test_show_of_an_unknown_exercise_suggests_one(run: Run) -> None:
    assert "did you mean guided-bar-press" in sentence(run("show", "guided-bar-pres"), 2)


# ---------------------------------------------------------------- history


@pytest.fixture
def stored(formcheck_home: Path) -> Store:
    from datetime import UTC, datetime

    store = Store.open(formcheck_home / "reviews.sqlite")
    store.save_review(decode(SAMPLE.read_bytes()), created_at=datetime(2026, 3, 1, 12, tzinfo=UTC))
    return store


def test_history_of_nothing_says_so(run: Run) -> None:
    assert "No reviews are stored yet." in good(run("history"))


def test_history_lists_the_rows(run: Run, stored: Store) -> None:
    out = good(run("history"))
    assert re.search(
        r"^1 +2026-0[23]-\d\d \d\d:\d\d +invented-set\.mp4 +lateral-raise +7\.5 kg +2 \+ 1 partial +0 +1 +1 *$",
        out,
        re.M,
    )
    assert "invented-set" not in good(run("history", "--exercise", "guided-bar-press"))


def test_history_shows_a_review_again(run: Run, stored: Store, tmp_path: Path) -> None:
    out = good(run("history", "1"))
    assert "2 complete reps and 1 partial rep" in out
    assert "3 (partial)" in out
    assert "Stop if it hurts and have it looked at." in out
    shown = good(run("history", "1", "--json", "-")).encode()
    assert decode(shown) == decode(SAMPLE.read_bytes())
    # The sample is older than two cameras and corrections by hand; everything it holds is written as it stood there.
    written, sample = json.loads(shown), json.loads(SAMPLE.read_text(encoding="utf-8"))
    assert {key: written[key] for key in sample if key not in ("reps", "measures")} == {
        key: value for key, value in sample.items() if key not in ("reps", "measures")
    }
    good(run("history", "1", "--json", tmp_path / "a.json"))
    assert json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["reps"]


def test_history_checks_and_deletes(run: Run, stored: Store) -> None:
    assert "sound: 1 review" in good(run("history", "--check"))
    assert "Review 1 is deleted." in good(run("history", "1", "--delete"))
    assert "no review 1" in sentence(run("history", "1"), 1)
    assert "no review 1" in sentence(run("history", "1", "--delete"), 1)


@pytest.mark.parametrize(
    "options",
    [
        ["--delete"],
        ["--json", "-"],
        ["0"],
        ["1", "--check"],
        ["1", "--exercise", "lateral-raise"],
        ["1", "--delete", "--json", "-"],
        ["--limit", "0"],
    ],
)
def test_history_refuses_what_does_not_go_together(run: Run, stored: Store, options: list[str]) -> None:
    assert run("history", *options).exit_code == 2
    assert len(stored.list_reviews()) == 1


def test_a_name_cannot_steer_the_terminal(run: Run, formcheck_home: Path) -> None:
    from datetime import UTC, datetime

    wicked = SAMPLE.read_text(encoding="utf-8").replace("invented-set.mp4", r"\u001b[31m[bold]x\u0007.mp4")
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        store.save_review(decode(wicked), created_at=datetime.now(UTC))
    for arguments in (["history"], ["history", "1"]):
        out = good(run(*arguments))
        assert "\x1b" not in out
        assert "\x07" not in out
        assert "[31m[bold]x" in out


@pytest.mark.parametrize("command", [["history"], ["history", "--check"], ["demo"]])
def test_a_damaged_store_is_one_sentence(run: Run, formcheck_home: Path, root: Path, command: list[str]) -> None:
    (formcheck_home / "reviews.sqlite").write_text("Dear reader, " * 100)
    assert "damaged" in sentence(run(*command), 1)


# ---------------------------------------------------------------- demo


@pytest.fixture
def clips(make_clip: Any, tmp_path: Path) -> Path:
    folder = tmp_path / "clips"
    folder.mkdir()
    for name, exercise, shade in (("a", "lateral-raise", 60), ("b", "overhead-lateral-raise", 120)):
        make_clip(folder / f"{name}.mp4", shade=shade)
        (folder / f"{name}.truth.json").write_text(json.dumps({"exercise": exercise}))
    return folder


def test_demo_reviews_each_clip_once(run: Run, clips: Path, estimator: Any, formcheck_home: Path) -> None:
    out = good(run("demo", "--clips", clips))
    assert re.search(r"^a\.mp4: review 1, lateral-raise\. 4 complete reps", out, re.M)
    assert re.search(r"^b\.mp4: review 2, overhead-lateral-raise\. ", out, re.M)
    seen = estimator.seen
    again = good(run("demo", "--clips", clips))
    assert again.count("already in the store") == 2
    assert estimator.seen == seen
    assert kept(formcheck_home) == 2


@pytest.mark.parametrize(
    ("truth", "says"),
    [(None, "cannot be read"), ("{", "not JSON"), ("[]", "does not name"), ('{"exercise": "flying"}', "no exercise")],
)
def test_one_bad_clip_does_not_stop_the_demo(
    run: Run, clips: Path, estimator: Any, formcheck_home: Path, truth: str | None, says: str
) -> None:
    place = clips / "a.truth.json"
    place.unlink() if truth is None else place.write_text(truth)
    result = run("demo", "--clips", clips)
    assert result.exit_code == 1
    first, last = result.stderr.strip().splitlines()
    assert first.startswith("a.mp4: ")
    assert says in first
    assert last == "formcheck: 1 of 2 clips could not be reviewed."
    assert kept(formcheck_home) == 1


def test_the_demo_takes_the_clips_beside_the_package(root: Path) -> None:
    from formcheck.cli.work import shipped_clips

    assert shipped_clips() == root / "clips_demo"


def test_demo_without_clips_is_one_sentence(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bare").mkdir()
    for name in ("bare", "missing"):
        assert "no clips" in sentence(run("demo", "--clips", tmp_path / name), 1)


# ---------------------------------------------------------------- the real command


def formcheck(*arguments: object, **options: Any) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "formcheck", *(str(argument) for argument in arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, **options)


def test_help_and_version_import_nothing_slow(root: Path) -> None:
    code = (
        "import sys\nfrom formcheck.cli import cli\n"
        "cli(['--help'], standalone_mode=False)\ncli(['review', '--help'], standalone_mode=False)\n"
        "slow = {'mediapipe', 'av', 'cv2', 'numpy', 'sqlalchemy', 'alembic', 'pydantic', 'rich', 'streamlit'}\n"
        "print('slow:', sorted(slow & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert "Review a recorded strength-training set" in done.stdout
    assert "--target-reps" in done.stdout
    assert done.stdout.strip().endswith("slow: []")
    assert formcheck("--version", cwd=root).stdout.startswith("formcheck 0.")


def test_the_command_needs_no_colour_no_width_and_no_utf8_terminal(root: Path, tmp_path: Path) -> None:
    bare = {"PATH": os.environ["PATH"], "PYTHONIOENCODING": "ascii", "FORMCHECK_HOME": str(tmp_path), "COLUMNS": "20"}
    done = formcheck("show", "lateral-raise", cwd=root, env=bare)
    assert (done.returncode, done.stderr) == (0, "")
    assert "at least 88?" in done.stdout
    assert "\x1b" not in done.stdout


def test_a_reader_that_goes_away_makes_no_noise(root: Path) -> None:
    pipe = subprocess.Popen(
        [sys.executable, "-m", "formcheck", "show", "lateral-raise"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=root,
    )
    assert pipe.stdout is not None
    assert pipe.stderr is not None
    pipe.stdout.close()
    assert b"Traceback" not in pipe.stderr.read()
    pipe.stderr.close()
    pipe.wait()


@pytest.mark.pose
def test_a_shipped_clip_from_the_command_to_the_report(root: Path, tmp_path: Path) -> None:
    """The real pose model over a rendered clip: the reps of its truth file, the same twice, quiet on standard error."""
    clip, truth = shipped_clip(root)
    command = ["review", clip, "--exercise", truth["exercise"], "--report", tmp_path / "a.html", "--json", "-"]
    done = formcheck(*command, cwd=root)
    assert done.returncode == 0, done.stderr
    assert done.stderr.splitlines() == [f"Written: {tmp_path / 'a.html'}", "Kept as review 1 (formcheck history 1)."]
    review = decode(done.stdout)
    assert len(review.reps) == len(truth["reps"])
    assert (tmp_path / "a.html").stat().st_size > 20_000
    again = formcheck(*command, cwd=root)
    assert again.stdout == done.stdout


@pytest.mark.pose
@pytest.mark.skipif(sys.platform == "win32", reason="terminals are POSIX's")
def test_a_terminal_sees_progress_with_time_left(root: Path) -> None:
    import pty

    clip, truth = shipped_clip(root)
    leader, follower = pty.openpty()
    command = [sys.executable, "-m", "formcheck", "review", str(clip), "--exercise", truth["exercise"], "--no-save"]
    worker = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=follower, cwd=root)
    os.close(follower)
    drawn = ""
    progress = re.compile(r"Looking at the clip.*[1-9]\d? % +\d+:\d\d left")
    while not progress.search(drawn):
        try:
            part = os.read(leader, 65536)
        except OSError:  # the terminal's other end is closed
            break
        if not part:
            break
        drawn += re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", part.decode(errors="replace"))
    worker.send_signal(signal.SIGTERM)
    os.close(leader)
    assert worker.communicate()[0] == b""
    assert progress.search(drawn), drawn[-2000:]


@pytest.mark.pose
@pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX's")
@pytest.mark.parametrize(("number", "codes"), [(signal.SIGINT, (130, -2)), (signal.SIGTERM, (143,))])
def test_a_stopped_command_leaves_nothing_half_done(
    root: Path, tmp_path: Path, number: int, codes: tuple[int, ...]
) -> None:
    clip, truth = shipped_clip(root)
    out = tmp_path / "out"
    out.mkdir()
    home = Path(os.environ["FORMCHECK_HOME"])
    command = [sys.executable, "-m", "formcheck", "review", str(clip), "--exercise", truth["exercise"]]
    worker = subprocess.Popen(
        [*command, "--report", str(out / "a.html")], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=root
    )
    # The store is opened just before the clip is looked at, which takes seconds.
    while not (home / "reviews.sqlite").exists() and worker.poll() is None:
        time.sleep(0.02)
    time.sleep(0.5)
    worker.send_signal(number)
    stdout, stderr = worker.communicate()
    # Stopped inside an import, Python ends itself by the signal once all is tidied up: a shell shows 130 for both.
    assert worker.returncode in codes, stderr
    assert stdout == b""
    assert stderr.decode() == ("formcheck: stopped.\n" if number == signal.SIGINT else "")
    assert list(out.iterdir()) == []
    assert kept(home) == 0


def shipped_clip(root: Path) -> tuple[Path, dict[str, Any]]:
    """The first of the shipped clips, with its truth."""
    truths = sorted((root / "clips_demo").glob("*.truth.json"))
    assert truths, "the shipped clips are missing"
    truth: dict[str, Any] = json.loads(truths[0].read_text(encoding="utf-8"))
    return truths[0].with_name(truths[0].name.replace(".truth.json", ".mp4")), truth
