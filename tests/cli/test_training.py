"""The commands around more than one set: clients, plans, notes, corrections, limits, comparing, progress, backup."""

import json
import re
import shutil
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from formcheck.cli import cli
from formcheck.demo import story
from formcheck.exercises.limits import LimitChange
from formcheck.exercises.registry import get_exercise, list_cautions
from formcheck.formats.training_json import KINDS, get_schema_path, make_schema
from formcheck.report import wording
from formcheck.storage import Store
from tests.cli.results import read_output, read_refusal
from tests.facts import says

Run = Callable[..., Result]
MIRA = story.CLIENT


@pytest.fixture(scope="module")
def demo_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with three sessions of the invented client."""
    home = tmp_path_factory.mktemp("demo")
    short = pytest.MonkeyPatch()
    short.setattr(story, "STORY", (story.STORY[0], story.STORY[3], story.STORY[4]))
    with Store.open(home / "reviews.sqlite") as store:
        story.install_story(store, home / "recordings", today=date(2026, 3, 1))
    short.undo()
    return home


@pytest.fixture
def home(demo_home: Path, formcheck_home: Path) -> Path:
    shutil.copytree(demo_home, formcheck_home, dirs_exist_ok=True)
    return formcheck_home


def validated(kind: str, text: str) -> Any:
    loaded = json.loads(text)
    schema = json.loads(get_schema_path(kind).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(loaded)
    return loaded


# ---------------------------------------------------------------- clients


def test_clients_are_added_listed_shown_and_changed(run: Run) -> None:
    assert says(read_output(run("client", "list")), "no clients")
    added = read_output(run("client", "add", "Ada  Invented", "--notes", "left shoulder"))
    assert says(added, "Ada Invented", "client")
    assert re.search(r"^Ada Invented +0 +· +left shoulder", read_output(run("client", "list")), re.M)
    assert "None yet." in read_output(run("client", "show", "ada invented"))
    read_output(run("client", "change", "Ada Invented", "--name", "Ada Made-Up"))
    assert "already" in read_refusal(run("client", "add", "ADA made-up"), 1)
    assert says(read_refusal(run("client", "show", "Nobody"), 1), "known", "Ada Made-Up")
    assert run("client", "change", "Ada Made-Up").exit_code == 2


def test_names_cannot_steer_the_terminal(run: Run, home: Path) -> None:
    read_output(run("note", 1, "--remark", "red \x1b[31m text"))
    assert "\x1b[31m" not in read_output(run("note", 1))
    assert "control characters" in read_refusal(run("client", "add", "bell \x07"), 1)


def test_a_client_is_shown_with_plans_and_sessions(run: Run, home: Path) -> None:
    out = read_output(run("client", "show", MIRA))
    assert "never filmed" in out
    assert "lateral-raise: 3x11 @ 7.5 kg tempo 2-1-1-0 range 75°" in out
    assert re.search(r"lateral-raise +11 at 7\.5 kg / 9 at 7\.5 kg / 7 at 7\.5 kg +7 8 9", out)


def test_a_client_leaves_with_everything(run: Run, home: Path, tmp_path: Path) -> None:
    with Store.open(home / "reviews.sqlite") as store:
        for number in range(3, 10):
            store.delete_review(number)
    left = len(list((home / "recordings").iterdir()))
    out = read_output(run("client", "export", MIRA, tmp_path / "mira.zip"))
    assert says(out, "2 reviews", "no clips")
    assert "already" in read_refusal(run("client", "export", MIRA, tmp_path / "mira.zip"), 1)
    refused = CliRunner().invoke(cli, ["client", "delete", MIRA], input="n\n", prog_name="formcheck")
    assert refused.exit_code != 0
    # Each set's landmarks, and the curves that the export's reports were made from: all of them and as they are seen.
    assert says(refused.stderr, "Mira Invented", "2 reviews", "6 files")
    with Store.open(home / "reviews.sqlite") as store:
        assert len(store.list_reviews()) == 2
    assert says(read_output(run("client", "delete", MIRA, "--yes")), MIRA, "2 reviews", "6 files")
    assert len(list((home / "recordings").iterdir())) == left - 2
    assert says(read_output(run("history")), "no", "reviews")


# ---------------------------------------------------------------- plans, notes, assigning


def test_plans_are_set_shown_and_ended(run: Run) -> None:
    read_output(run("client", "add", "Ada"))
    out = read_output(run("plan", "set", "Ada", "lateral-raise", "11/9/7 @ 6/7/8 kg", "--from", "2026-03-01"))
    assert says(out, "1 Mar 2026", "11/9/7 @ 6/7/8 kg")
    read_output(run("plan", "end", "ada", "lateral-raise", "--from", "2026-04-01"))
    shown = read_output(run("plan", "show", "Ada"))
    assert re.search(r"2026-03-01 +lateral-raise +11/9/7.*\n2026-04-01 +lateral-raise +ended", shown)
    assert says(read_output(run("plan", "show", "Ada", "squat")), "nothing", "planned")
    assert "cannot be read" in read_refusal(run("plan", "set", "Ada", "lateral-raise", "4x9 slowly"), 2)
    assert "did you mean" in read_refusal(run("plan", "set", "Ada", "latral-raise", "4x9"), 2)
    assert run("plan", "set", "Ada", "squat", "4x9", "--from", "soon").exit_code == 2


def test_the_plan_gives_load_and_reps_that_were_not_said(run: Run, clip: Path, estimator: Any, home: Path) -> None:
    read_output(run("plan", "set", MIRA, "lateral-raise", "4/8 @ 5/6 kg", "--from", "2026-03-01"))
    options = ("--exercise", "lateral-raise", "--client", MIRA.upper(), "--session", "2026-03-04")
    assert says(read_output(run("review", clip, *options)), "4 complete", "target 4")
    second = read_output(run("review", clip, *options, "--set", 2, "--load", 7))
    assert "7 kg" in second
    assert "(target 8)" in second
    with Store.open(home / "reviews.sqlite") as store:
        rows = store.list_reviews(client=MIRA, session_on=date(2026, 3, 4))
    assert [(row.set_number, row.load_kg, row.target_reps) for row in rows] == [(2, 7.0, 8), (1, 5.0, 4)]
    assert run("review", clip, *options, "--no-save").exit_code == 2


def test_own_limits_hold_in_a_review(run: Run, clip: Path, estimator: Any) -> None:
    read_output(run("limits", "set", "lateral-raise", "height", "--limit", 120, "--tolerance", 1))
    assert "Set by the coach" in read_output(run("review", clip, "--exercise", "lateral-raise", "--details"))
    document = json.loads(read_output(run("review", clip, "--exercise", "lateral-raise", "--json", "-")))
    (height,) = [item for item in document["findings"] if item["check"] == "height"]
    assert (height["limit"], height["verdict"], len(height["reps"])) == (120.0, "not_met", 4)


def test_notes_are_kept_and_shown(run: Run, home: Path) -> None:
    assert says(read_output(run("note", 1)), "nothing")
    out = read_output(run("note", 1, "--reserve", 2, "--effort", 7, "--where", "left shoulder", "--sleep", 6.5))
    assert says(out, "left shoulder", "7", "10", "2", "6.5 h")
    assert read_output(run("note", 1)) == out
    assert says(read_refusal(run("note", 1, "--effort", 11), 2), "0", "10")
    assert "no review 99" in read_refusal(run("note", 99), 1)
    assert "no review 99" in read_refusal(run("note", 99, "--no-pain"), 1)


def test_a_review_is_assigned_later(run: Run, home: Path) -> None:
    assert read_output(run("assign", 1, "--client", "Bea", "--session", "2026-02-02", "--set", 3)) == (
        "Review 1: Bea, 2 Feb 2026, set 3.\n"
    )
    assert run("assign", 1).exit_code == 2
    for slip in ("0026-02-02", "9999-02-02"):
        refused = run("assign", 1, "--session", slip)
        assert refused.exit_code == 2
        assert says(refused.stderr, "1900", "2199")
    assert "no review 99" in read_refusal(run("assign", 99, "--set", 1), 1)


# ---------------------------------------------------------------- corrections and limits


def test_a_review_is_corrected_step_by_step_and_back(run: Run, home: Path) -> None:
    assert says(read_output(run("correct", 1)), "nothing", "corrected")
    assert says(read_output(run("correct", 1, "--delete", 3)), "10 complete")
    with Store.open(home / "reviews.sqlite") as store:
        reps = store.load_review(1).reps
    gap = (reps[1].end_s, reps[2].start_s)
    out = read_output(run("correct", 1, "--add", f"{gap[0] + 0.2},{gap[1] - 0.2}"))
    assert says(out, "11 complete")
    assert says(read_output(run("correct", 1, "--leave-out", f"{reps[-1].start_s - 0.1},400")), "10 complete")
    listed = read_output(run("correct", 1))
    assert listed.count("holds") == 3
    assert says(listed, "deleted")
    for expected in ("11 complete", "10 complete", "11 complete"):
        assert expected in read_output(run("correct", 1, "--undo"))
    assert "no correction" in read_refusal(run("correct", 1, "--undo"), 1)
    moved = read_output(run("correct", 1, "--move", 1, "--start", 0.9))
    assert re.search(r"^1 \(by hand\) +0:00\.9 ", moved, re.M)


def test_a_review_is_made_anew_and_what_held_before_comes_back(run: Run, home: Path) -> None:
    assert says(read_output(run("renew", 1)), "review 1", "11 complete")
    with Store.open(home / "reviews.sqlite") as store:
        assert len(store.revisions_of(1)) == 1
        assert store.load_review(1).points
    assert "holds" in read_output(run("correct", 1))
    assert "11 complete" in read_output(run("correct", 1, "--undo"))
    assert "no correction" in read_refusal(run("correct", 1, "--undo"), 1)
    assert "no review 99" in read_refusal(run("renew", 99), 1).lower()


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (("--delete", 99), 2),
        (("--move", 1, "--start", 9.0), 2),
        (("--exercise", "latral-raise"), 2),
        (("--add", "500,503"), 2),
        (("--move", 1), 2),
        (("--start", 1.0), 2),
        (("--add", "1"), 2),
        (("--leave-out", "a,b"), 2),
        (("--delete", 1, "--undo"), 2),
    ],
)
def test_a_correction_that_does_not_fit_changes_nothing(
    run: Run, home: Path, options: tuple[object, ...], code: int
) -> None:
    result = run("correct", 1, *options)
    assert result.exit_code == code
    assert "Traceback" not in result.output
    with Store.open(home / "reviews.sqlite") as store:
        assert store.revisions_of(1) == []


def test_a_correction_without_landmarks_is_one_sentence(run: Run, home: Path) -> None:
    shutil.rmtree(home / "recordings")
    assert says(read_refusal(run("correct", 1, "--delete", 1), 1), "review", "again")


def test_own_limits_are_tried_set_shown_and_taken_back(run: Run, home: Path) -> None:
    set_it = ("limits", "set", "lateral-raise", "range-kept", "--limit", 0.4, "--client", MIRA)
    tried = read_output(run(*set_it, "--try"))
    assert "would change" in tried
    assert says(tried, "review 9", "Mira Invented")
    assert "to change → " in tried
    assert says(read_output(run("limits", "show", "lateral-raise", "--client", MIRA, "--history")), "no own limits")
    assert says(read_output(run(*set_it)), "entry 1")
    read_output(run("limits", "set", "lateral-raise", "range-kept", "--cue", "Whole way.", "--client", MIRA))
    shown = read_output(run("limits", "show", "lateral-raise", "--client", MIRA))
    assert re.search(r"range-kept .*40.% or more .*\(own\) .*87.% or more.*Whole way\.", shown)
    assert "(own)" not in read_output(run("limits", "show", "lateral-raise"))
    read_output(run("limits", "reset", "lateral-raise", "--client", MIRA))
    assert "(own)" not in read_output(run("limits", "show", "lateral-raise", "--client", MIRA))
    read_output(run("limits", "restore", 2))
    assert "(own)" in read_output(run("limits", "show", "lateral-raise", "--client", MIRA))
    history = read_output(run("limits", "show", "lateral-raise", "--client", MIRA, "--history"))
    assert [line[:2] for line in history.splitlines()] == ["1.", "2.", "3.", "4."]
    assert "no check" in read_refusal(run("limits", "set", "lateral-raise", "depth", "--limit", 3), 2)
    assert run("limits", "set", "lateral-raise", "height").exit_code == 2


def test_an_own_limit_for_another_number_is_kept_switched_off_and_told(run: Run, home: Path) -> None:
    """A limit of the upper arm's height, from before the point was judged by the line of the arm."""
    with Store.open(home / "reviews.sqlite") as store:
        store._add_limits(
            "lateral-raise",
            {"height": LimitChange(limit=60.0, cue="Higher.")},
            created_at=datetime(2026, 3, 1, tzinfo=UTC),
            client=None,
        )
    shown = read_output(run("limits", "show", "lateral-raise"))
    assert says(shown, "arms level", "kept but not used")
    assert "(own)" not in shown
    assert re.search(r"height .*82. or more.*Higher\.", shown)
    read_output(run("limits", "set", "lateral-raise", "height", "--limit", 75))
    shown = read_output(run("limits", "show", "lateral-raise"))
    assert "not used" not in shown
    assert re.search(r"height .*75. or more.*\(own\)", shown)
    assert "60" in read_output(run("limits", "show", "lateral-raise", "--history")).splitlines()[0]


# ---------------------------------------------------------------- comparing and progress


def test_a_tired_set_is_held_against_a_fresh_one(run: Run, home: Path) -> None:
    out = read_output(run("compare", 7, 9))
    assert "Changed" in out
    assert "Range" in out
    document = validated("comparison", read_output(run("compare", 7, 9, "--json", "-")))
    assert [item["review"] for item in document["sets"]] == [7, 9]
    assert document["course"] is None
    changed = {item["measure"] for item in document["comparison"]["differences"] if item["call"] == "changed"}
    assert "range_of_motion" in changed


def test_sets_of_two_people_are_told_to_be_that(run: Run, home: Path) -> None:
    assert "two people" not in read_output(run("compare", 7, 9))
    read_output(run("assign", 9, "--client", "Ben Invented"))
    out = " ".join(read_output(run("compare", 7, 9)).split())
    assert says(out, "two people")
    assert out.index("Ben Invented") < out.index("Range")
    document = validated("comparison", read_output(run("compare", 7, 9, "--json", "-")))
    assert "two people" in document["comparison"]["sentence"]
    assert not document["comparison"]["same_camera"]


def test_the_reps_of_one_set_are_held_against_each_other(run: Run, home: Path, tmp_path: Path) -> None:
    out = read_output(run("compare", 9, "--json", tmp_path / "c.json"))
    assert "Written: " in out
    document = validated("comparison", (tmp_path / "c.json").read_text(encoding="utf-8"))
    assert document["course"]["breakdown"] is not None
    assert tuple(document["cautions"]) == list_cautions(get_exercise("lateral-raise"))
    text = " ".join(read_output(run("compare", 9)).split())
    assert "broke down" in text
    assert wording.describe_caution("formcheck cautions") in text


def test_a_comparison_can_be_kept_as_a_report(run: Run, home: Path, tmp_path: Path) -> None:
    target = tmp_path / "c.html"
    assert f"Written: {target}" in read_output(run("compare", 7, 9, "--report", target)).replace("\n", "")
    page = target.read_text(encoding="utf-8")
    assert says(page, "set 1", "set 3")
    assert "Advisory only" in page
    assert (
        validated("comparison", read_output(run("compare", 9, "--report", target, "--json", "-")))["course"] is not None
    )
    assert says(target.read_text(encoding="utf-8"), "early reps", "late reps")


def test_sets_that_cannot_be_compared_are_one_sentence(run: Run, home: Path) -> None:
    assert "no review 99" in read_refusal(run("compare", 1, 99), 1)
    assert "no review 98" in read_refusal(run("compare", 98), 1)
    read_output(run("correct", 2, "--exercise", "overhead-lateral-raise"))
    assert "one exercise" in read_refusal(run("compare", 1, 2), 2)


def test_progress_shows_sessions_plan_and_advice(run: Run, home: Path, tmp_path: Path) -> None:
    options = ("progress", MIRA, "--exercise", "lateral-raise", "--set", 3)
    out = read_output(run(*options, "--report", tmp_path / "p.html"))
    assert len(re.findall(r"^\d\d? [A-Z][a-z]{2} 2026 ", out, re.M)) == 3
    assert "11/9/7" in out
    assert "advice, never an order" in out
    assert says(out, "back", "load", "off")
    assert "What speaks for caution: " in out
    assert says(out, "Set 3", "7", "4", "11")
    page = (tmp_path / "p.html").read_text(encoding="utf-8")
    assert "back the load off slightly" in page
    assert "Advisory only" in page
    assert page.count("<circle") == 6  # range and load of three sessions
    text = " ".join(out.split())
    assert wording.describe_caution("formcheck cautions") in text
    assert "Stop at once on pain" in text  # beside the load that is advised
    document = validated("progress", read_output(run(*options, "--json", "-")))
    assert tuple(document["cautions"]) == list_cautions(get_exercise("lateral-raise"))
    assert document["client"] == MIRA
    assert [line["complete_reps"] for line in document["progress"]["sessions"]] == [35, 34, 27]
    assert document["progress"]["advice"]["kind"] == "back_off"


def test_pain_silences_every_other_advice(run: Run, home: Path) -> None:
    read_output(run("note", 9, "--where", "<b>neck</b>"))
    out = read_output(run("progress", MIRA, "--exercise", "lateral-raise"))
    assert says(out, "stop this exercise", "looked at")
    assert "back the load off" not in out


def test_words_of_pain_in_a_remark_count_until_answered(run: Run, home: Path) -> None:
    assert "--no-pain" in read_output(run("note", 9, "--remark", "sharp twinge in the shoulder"))
    out = " ".join(read_output(run("progress", MIRA, "--exercise", "lateral-raise")).split())
    assert says(out, "stop this exercise")
    assert "twinge" in out
    assert "counts as pain" not in read_output(run("note", 9, "--no-pain", "--remark", "sharp twinge in the shoulder"))
    assert "stop this exercise" not in read_output(run("progress", MIRA, "--exercise", "lateral-raise"))


def test_the_report_escapes_what_was_typed(run: Run, home: Path, tmp_path: Path) -> None:
    read_output(run("client", "change", MIRA, "--name", "<script>alert(1)</script>"))
    read_output(run("note", 9, "--where", "<b>neck</b>"))
    target = tmp_path / "p.html"
    read_output(run("progress", "<script>alert(1)</script>", "--exercise", "lateral-raise", "--report", target))
    page = target.read_text(encoding="utf-8")
    assert "<script>" not in page
    assert "<b>neck" not in page
    assert "&lt;script&gt;" in page


def test_progress_of_nothing_is_one_sentence(run: Run, home: Path) -> None:
    assert "no session" in read_refusal(run("progress", MIRA, "--exercise", "squat"), 2)
    assert "no client" in read_refusal(run("progress", "Nobody", "--exercise", "squat"), 1)
    assert "did you mean" in read_refusal(run("progress", MIRA, "--exercise", "sqat"), 2)


def test_the_published_schemas_are_those_of_the_program() -> None:
    for kind in KINDS:
        assert json.loads(get_schema_path(kind).read_text(encoding="utf-8")) == make_schema(kind)


def test_the_page_on_the_formats_names_every_key(root: Path) -> None:
    page = (root / "docs" / "training-format.md").read_text(encoding="utf-8")
    for kind in KINDS:
        schema = make_schema(kind)
        for part in (schema, *schema["$defs"].values()):
            for key in part.get("properties", {}):
                assert f"`{key}`" in page, (kind, key)


# ---------------------------------------------------------------- backup and restore


def test_backup_and_restore(run: Run, home: Path, tmp_path: Path) -> None:
    assert says(read_output(run("backup", tmp_path / "b.sqlite")), "9 reviews")
    read_output(run("client", "delete", MIRA, "--yes"))
    read_output(run("client", "add", "Bea"))
    refused = CliRunner().invoke(cli, ["restore", str(tmp_path / "b.sqlite")], input="n\n", prog_name="formcheck")
    assert refused.exit_code != 0
    assert "Mira" not in read_output(run("client", "list"))
    out = read_output(run("restore", tmp_path / "b.sqlite", "--yes"))
    assert says(out, "restored", "9 reviews")
    earlier = re.search(r"before: (.+)", out)
    assert earlier is not None
    assert Path(earlier[1]).is_file()
    assert "Mira" in read_output(run("client", "list"))
    (tmp_path / "b.sqlite").write_bytes(b"broken")
    assert "damaged" in read_refusal(run("restore", tmp_path / "b.sqlite", "--yes"), 1)
    assert says(read_refusal(run("restore", tmp_path / "none", "--yes"), 1), "no backup")
    assert says(read_output(run("history", "--check")), "9 reviews")


def test_demo_tells_the_story_first(run: Run, home: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(story, "STORY", (story.STORY[0],))
    monkeypatch.setattr("formcheck.storage.media_files.shipped_folder", lambda: tmp_path / "none")
    out = run("demo", "--store", tmp_path / "fresh.sqlite").stdout
    assert says(out, "6 weeks", "invented", "3", "nobody")
    assert f'formcheck progress "{MIRA}" --exercise lateral-raise' in out
    assert says(run("demo", "--store", tmp_path / "fresh.sqlite").stdout, "already", "store")


def test_a_review_is_written_as_a_table(run: Run, home: Path, tmp_path: Path) -> None:
    read_output(run("history", 1, "--csv", tmp_path / "t.csv"))
    text = (tmp_path / "t.csv").read_bytes().decode()
    assert text.startswith(
        "rep,rep_complete,rep_by_hand,measure,side,value,margin,unit,missing_reason,margin_origin,rep_side\r\n"
    )
    assert text.endswith("\r\n")
    assert "\r\n\r\n" not in text
    assert read_output(run("history", 1, "--csv", "-")).splitlines() == text.splitlines()
    assert run("history", "--csv", tmp_path / "t.csv").exit_code == 2


def test_history_of_one_client(run: Run, home: Path) -> None:
    read_output(run("assign", 4, "--client", "Bea"))
    out = read_output(run("history", "--client", "bea"))
    assert [line.split()[0] for line in out.splitlines()[1:]] == ["4"]
    assert "Bea" in out
    assert "no client" in read_refusal(run("history", "--client", "Nobody"), 1)


def test_what_was_set_by_hand_is_said_on_the_screen(run: Run, home: Path) -> None:
    out = read_output(run("correct", 1, "--move", 2, "--end", 8.6))
    assert says(out, "by hand")
    assert re.search(r"^2 \(by hand\) ", out, re.M)
    assert "Rep 2 (0:0" in out
