"""Exercise files of the user's own: in the data folder, and named in a command."""

from pathlib import Path
from typing import Any

import pytest

from formcheck.exercises import own_files
from formcheck.storage import Store
from formcheck.storage.data_folder import own_exercises_folder
from tests.cli.results import Run, read_output, read_refusal
from tests.facts import says
from tests.own_exercise import HEIGHT_DEG, ID, NAME, write_own


def limits_judged(home: Path, number: int, check: str) -> set[float | None]:
    with Store.open(home / "reviews.sqlite") as store:
        return {item.limit for item in store.load_review(number).findings if item.check == check}


def test_a_file_named_in_a_command_is_used_and_nothing_else(
    run: Run, clip: Path, estimator: Any, formcheck_home: Path, tmp_path: Path
) -> None:
    own = write_own(tmp_path / "mine")
    out = read_output(run("review", clip, "--exercise", own))
    assert NAME in out
    assert says(" ".join(out.split()), own.name, str(formcheck_home / "exercises"))
    assert limits_judged(formcheck_home, 1, "height") == {HEIGHT_DEG}
    assert NAME in read_output(run("show", own))
    assert ID not in read_output(run("exercises"))  # known while its command ran
    assert f"{ID}: {NAME}" in read_output(run("suggest", clip, "--exercise", own))
    assert ID not in read_output(run("suggest", clip))


def test_files_of_the_data_folder_are_known_like_shipped_ones(
    run: Run, clip: Path, estimator: Any, formcheck_home: Path
) -> None:
    write_own(own_exercises_folder())
    assert own_exercises_folder() == formcheck_home / "exercises"
    assert ID in read_output(run("exercises"))
    assert NAME in read_output(run("show", ID))
    assert NAME in read_output(run("show", f"{ID}/seated")) or "seated" in read_output(run("show", f"{ID}/seated"))
    assert f"{ID}: {NAME}" in read_output(run("suggest", clip))
    read_output(run("review", clip, "--exercise", ID, "--client", "Ada Example"))
    assert limits_judged(formcheck_home, 1, "height") == {HEIGHT_DEG}
    read_output(run("limits", "set", ID, "height", "--limit", "100"))
    read_output(run("correct", 1, "--delete", "4"))
    assert limits_judged(formcheck_home, 1, "height") == {100.0}
    assert NAME in read_output(run("plan", "set", "Ada Example", ID, "4x9")) + NAME
    assert NAME in read_output(run("progress", "Ada Example", "--exercise", ID))


def test_a_shipped_review_is_corrected_to_an_own_exercise(
    run: Run, clip: Path, estimator: Any, formcheck_home: Path, tmp_path: Path
) -> None:
    read_output(run("review", clip, "--exercise", "lateral-raise"))
    own = write_own(tmp_path / "mine")
    assert NAME in read_output(run("correct", 1, "--exercise", own))
    assert limits_judged(formcheck_home, 1, "height") == {HEIGHT_DEG}
    gone = run("correct", 1, "--undo")
    assert "lateral raise" in read_output(gone).lower()


def test_a_batch_takes_own_files(run: Run, clip: Path, estimator: Any, formcheck_home: Path, tmp_path: Path,
                                 monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    from formcheck.batch.local import InProcessRunner

    monkeypatch.setattr("formcheck.cli.batch._make_runner", lambda *_: InProcessRunner())
    write_own(tmp_path / "lists" / "mine")
    listed = tmp_path / "lists" / "list.csv"
    listed.write_text(f"clip,exercise\n{clip},mine/{ID}.toml\n{clip},lateral-raise\n", encoding="utf-8")
    assert says(read_output(run("batch", listed)), "2 clips", "2 reviewed")
    assert limits_judged(formcheck_home, 1, "height") == {HEIGHT_DEG}
    again = run("batch", clip.parent, "--exercise", tmp_path / "lists" / "mine" / f"{ID}.toml")
    assert "already there" in read_output(again)
    listed.write_text(f"clip,exercise\n{clip},mine/none.toml\n", encoding="utf-8")
    message = read_refusal(run("batch", listed), 2)
    assert "Line 2" in message
    assert "none.toml" in message


def test_a_bad_file_is_told_and_breaks_nothing(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    folder = own_exercises_folder()
    bad = write_own(folder, exercise_id="bad-raise", height='"high"')
    write_own(folder)
    (folder / "half.toml").write_text("id = ", encoding="utf-8")
    listed = run("exercises")
    assert ID in read_output(listed)
    assert "bad-raise" not in listed.stdout
    lines = listed.stderr.strip().splitlines()
    assert len(lines) == 2
    assert "bad-raise.toml: checks.0.at_least: " in lines[0]
    assert "half.toml: " in lines[1]
    read_output(run("review", clip, "--exercise", "lateral-raise", "--no-save"))
    for message in (
        read_refusal(run("show", "bad-raise"), 2),
        read_refusal(run("review", clip, "--exercise", "bad-raise"), 2),
        read_refusal(run("review", clip, "--exercise", bad), 1),
    ):
        assert "bad-raise.toml: checks.0.at_least: " in message


def test_an_own_file_may_not_take_a_shipped_id(run: Run, clip: Path, formcheck_home: Path, tmp_path: Path) -> None:
    own = write_own(tmp_path / "mine", exercise_id="lateral-raise")
    message = read_refusal(run("review", clip, "--exercise", own), 1)
    assert message.count("lateral-raise.toml: id: ") == 1
    write_own(own_exercises_folder(), exercise_id="lateral-raise")
    shown = run("show", "lateral-raise")
    assert "Lateral raise to shoulder height" in read_output(shown)
    assert "lateral-raise.toml: id: " in run("exercises").stderr


def test_two_files_of_one_id_are_refused_unless_they_say_the_same(
    run: Run, clip: Path, formcheck_home: Path, tmp_path: Path
) -> None:
    write_own(own_exercises_folder())
    assert NAME in read_output(run("show", write_own(tmp_path / "same")))
    other = write_own(tmp_path / "other", height="90.0")
    assert f"{ID}.toml: id: " in read_refusal(run("show", other), 1)


def test_a_review_whose_exercise_file_is_gone(run: Run, clip: Path, estimator: Any, formcheck_home: Path) -> None:
    path = write_own(own_exercises_folder())
    read_output(run("review", clip, "--exercise", ID, "--client", "Ada Example"))
    read_output(run("correct", 1, "--delete", "4"))
    path.unlink()
    shown = run("history", 1)
    assert NAME in read_output(shown)
    assert str(path) in shown.stderr
    assert ID in read_output(run("history"))
    assert ID in read_output(run("history", "--exercise", ID))
    assert str(path) in read_refusal(run("correct", 1, "--delete", "3"), 2)
    undone = run("correct", 1, "--undo")
    assert says(read_output(undone), "4 complete")
    assert str(path) in undone.stderr
    assert read_output(run("compare", 1))
    assert ID in read_output(run("client", "show", "Ada Example"))


def test_nothing_named_in_a_command_stays_known(run: Run, tmp_path: Path) -> None:
    read_output(run("show", write_own(tmp_path / "mine")))
    assert own_files.find_added_file(ID) is None
