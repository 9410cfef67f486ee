"""The command `review`: what it prints, writes and keeps, how it refuses, and how it ends when stopped."""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from formcheck.exercises.registry import get_exercise, list_own_cautions, load_cautions
from formcheck.formats import SCHEMA_PATH, decode, encode
from formcheck.report import wording
from formcheck.report.next_cue import choose_next_cue
from formcheck.storage import Store
from tests.cli.results import Run, count_reviews, read_output, read_refusal
from tests.facts import says


def test_a_review_is_printed_and_kept(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--load", "7.5", "--target-reps", "4")
    out = read_output(result)
    assert "set.mp4" in out
    assert "7.5 kg" in out
    assert says(out, "4 complete", "target 4")
    tempo = r"(\d+\.\d-(?:\d+\.\d|·)(?:-\d+\.\d){2})"
    rows = re.findall(rf"^(\d) +(0:\d\d\.\d) +(0:\d\d\.\d) +{tempo}", out, flags=re.MULTILINE)
    assert [row[0] for row in rows] == ["1", "2", "3", "4"]
    assert re.search(r"left \d+° ± \d+°", out)
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        cue = choose_next_cue(store.load_review(1), get_exercise("lateral-raise"))
    assert cue is not None
    words = " ".join(out.split())
    assert words.index(cue.cue) < words.index("4 complete") < words.index("Begins")
    assert "Where the limits come from" not in out
    assert "[1]" not in out
    first, *own = out[out.index("Advisory only") :].splitlines()[:3]
    assert "stop at once on pain" in first
    assert first.endswith("formcheck cautions")
    assert own == [load_cautions()[key].text for key in ("breathing", "shoulder-height")]
    assert "formcheck history 1 --details" in out
    whole = read_output(run("history", 1, "--details"))
    assert wording.describe_caution("formcheck cautions") in " ".join(whole.split())
    assert all(caution in " ".join(whole.split()) for caution in list_own_cautions(get_exercise("lateral-raise")))
    assert "Where the limits come from" in whole
    assert len(out.split()) < 0.7 * len(whole.split())
    assert "Not measured in this clip" in whole
    assert says(out, "review 1")
    assert result.stderr == ""
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        (row,) = store.list_reviews()
        assert (row.load_kg, row.target_reps, row.complete_reps) == (7.5, 4, 4)
        assert row.clip_path == str(clip)


def test_the_findings_say_moment_margin_and_basis(run: Run, clip: Path, estimator: Any) -> None:
    out = read_output(
        run("review", clip, "--exercise", "overhead-lateral-raise", "--view", "front", "--no-save", "--details")
    )
    assert "To change" in out  # the made-up lifter stops at shoulder height
    change = out.split("To change")[1].split("\n\n")[0]
    assert re.search(r"\d+° ± \d+°", change)
    assert re.search(r"0:\d\d\.\d\s+in\s+the\s+clip", change)
    assert re.search(r"\[1\]", change)
    assert "Where the limits come from" in out


def test_no_save_keeps_nothing(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    assert (
        "Kept"
        not in read_output(run("review", clip, "--exercise", "lateral-raise", "--no-save")).split("Advisory only")[1]
    )
    assert count_reviews(formcheck_home) == 0


def test_a_review_of_every_picture_says_so(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    usual, every = (
        json.loads(read_output(run("review", clip, "--exercise", "lateral-raise", "--json", "-", *option)))
        for option in ((), ("--every-picture",))
    )
    assert "every_picture" not in usual["pose_model"]
    assert every["pose_model"]["every_picture"] is True
    jsonschema.validate(every, json.loads(SCHEMA_PATH.read_text()))
    assert len(list((formcheck_home / "recordings").glob("*.npz"))) == 2
    kept = decode(json.dumps(every))
    assert kept.pose_model.every_picture
    assert json.loads(encode(kept)) == every
    # corrected from the landmarks it was made from
    read_output(run("correct", 2, "--delete", "1"))
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        assert store.load_review(2).pose_model.every_picture
        assert not store.load_review(1).pose_model.every_picture


def test_json_to_standard_output_is_alone_there(run: Run, clip: Path, estimator: Any) -> None:
    result = run("review", clip, "--exercise", "lateral-raise", "--json", "-")
    written = json.loads(read_output(result))
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(written)
    assert len(written["reps"]) == 4
    assert says(result.stderr, "review 1")


def test_all_files_are_written_beside_the_table(run: Run, clip: Path, estimator: Any) -> None:
    files = {"--json": clip.parent / "a.json", "--report": clip.parent / "a.html", "--overlay": clip.parent / "a.mp4"}
    wish = [part for pair in files.items() for part in pair]
    out = read_output(run("review", clip, "--exercise", "lateral-raise", "--view", "front", *wish))
    assert {path.name for path in clip.parent.iterdir()} == {"set.mp4", "a.json", "a.html", "a.mp4"}
    for path in files.values():
        assert f"Written: {path}" in out
    assert decode(files["--json"].read_bytes()).view.origin == "given"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--exercise", "latral-raise"], "did you mean lateral-raise"),
        (["--exercise", "lateral-raise", "--report", "a.pdf"], "--report"),
        (["--exercise", "lateral-raise", "--overlay", "a.html", "--report", "a.html"], "--overlay"),
    ],
)
def test_bad_use_is_one_sentence(run: Run, clip: Path, estimator: Any, options: list[str], says: str) -> None:
    assert says in read_refusal(run("review", clip, *options), 2)
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
        ["--exercise", "lateral-raise", "--each-side"],
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
        read_refusal(run("review", tmp_path / name, "--exercise", "lateral-raise"), 1)
    assert count_reviews(formcheck_home) == 0


def test_a_pose_model_that_is_none_is_one_sentence(run: Run, clip: Path, tmp_path: Path) -> None:
    (tmp_path / "model.task").write_text("not a model")
    for name in ("model.task", "missing.task"):
        read_refusal(run("review", clip, "--exercise", "lateral-raise", "--pose-model", tmp_path / name), 1)


@pytest.mark.parametrize("option", ["--json", "--report", "--overlay"])
def test_an_unwritable_place_is_found_before_the_work(run: Run, clip: Path, estimator: Any, option: str) -> None:
    ending = {"--json": "json", "--report": "html", "--overlay": "mp4"}[option]
    place = clip.parent / "no-such-folder" / f"a.{ending}"
    assert "cannot be written" in read_refusal(run("review", clip, "--exercise", "lateral-raise", option, place), 1)
    assert estimator.seen == 0


def test_a_store_that_cannot_be_opened_is_found_before_the_work(run: Run, clip: Path, estimator: Any) -> None:
    (clip.parent / "store.sqlite").write_text("Dear reader, " * 100)
    result = run("review", clip, "--exercise", "lateral-raise", "--store", clip.parent / "store.sqlite")
    assert "store" in read_refusal(result, 1)
    assert estimator.seen == 0


def test_a_clip_of_an_empty_room_is_a_failure(run: Run, make_clip: Any, tmp_path: Path) -> None:
    """The real pose model looks at an empty room."""
    room = make_clip(tmp_path / "room.mp4", seconds=2)
    result = run("review", room, "--exercise", "lateral-raise")
    assert result.exit_code == 1
    out = result.stdout
    assert says(out, "nobody")
    assert "ilmed from" not in out
    assert "nothing to change" not in out


def test_a_clip_whose_second_half_is_damaged_is_told_first_kept_and_no_success(
    run: Run, clip: Path, estimator: Any, formcheck_home: Path
) -> None:
    whole = clip.read_bytes()
    index = whole.rindex(b"moov") - 4
    lost = round(0.4 * index)
    clip.write_bytes(whole[: index - lost] + bytes(lost) + whole[index:])
    result = run("review", clip, "--exercise", "lateral-raise", "--target-reps", "12")
    assert result.exit_code == 1
    lines = " ".join(result.stdout.split())
    assert re.search(r"^Lateral raise[^!]+! The clip is damaged: \d+\.\d of \d+\.\d seconds could be read", lines)
    assert not says(lines, "planned reps")
    assert not says(lines, "nothing to change")
    assert count_reviews(formcheck_home) == 1
    written = run("review", clip, "--exercise", "lateral-raise", "--no-save", "--json", "-")
    assert written.exit_code == 1
    assert json.loads(written.stdout)["quality"]["problems"][0]["code"] == "clip-damaged"


# ---------------------------------------------------------------- interruption and bugs


@pytest.fixture
def interrupt(monkeypatch: pytest.MonkeyPatch) -> Callable[[type[BaseException]], None]:
    """Has an error raised where the progress of the tracking is shown, after half of it."""

    def set_error(error: type[BaseException]) -> None:
        @contextmanager
        def failing_bar(_title: str) -> Iterator[Callable[[float, float | None], None]]:
            def show(done: float, total: float | None) -> None:
                if total and done > total / 2:
                    raise error("made up\nfor this test")

            yield show

        monkeypatch.setattr("formcheck.cli.reviews.progress_bar", failing_bar)

    return set_error


def test_ctrl_c_ends_neatly(
    run: Run, clip: Path, estimator: Any, formcheck_home: Path, interrupt: Callable[[type[BaseException]], None]
) -> None:
    interrupt(KeyboardInterrupt)
    result = run("review", clip, "--exercise", "lateral-raise", "--json", clip.parent / "a.json")
    assert says(read_refusal(result, 130), "stopped")
    assert {path.name for path in clip.parent.iterdir()} == {"set.mp4"}
    assert count_reviews(formcheck_home) == 0


def test_ctrl_c_while_drawing_leaves_no_half_film(
    run: Run, clip: Path, estimator: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(_clip: Path, _recording: object, out: Path, **_other: object) -> None:
        out.write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setattr("formcheck.report.overlay.write_overlay", stop)
    read_refusal(run("review", clip, "--exercise", "lateral-raise", "--overlay", clip.parent / "a.mp4"), 130)
    assert {path.name for path in clip.parent.iterdir()} == {"set.mp4"}


def test_a_bug_is_one_sentence_and_a_trace_on_demand(
    run: Run,
    clip: Path,
    estimator: Any,
    monkeypatch: pytest.MonkeyPatch,
    interrupt: Callable[[type[BaseException]], None],
) -> None:
    interrupt(ZeroDivisionError)
    refusal = read_refusal(run("review", clip, "--exercise", "lateral-raise"), 1)
    assert says(refusal, "ZeroDivisionError", "made up for this test")
    monkeypatch.setenv("FORMCHECK_DEBUG", "1")
    result = run("review", clip, "--exercise", "lateral-raise")
    assert isinstance(result.exception, ZeroDivisionError)
