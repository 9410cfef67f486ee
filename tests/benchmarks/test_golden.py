"""Documents made before and after a change: what is equal passes, and every kind of difference is told."""

import json
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from formcheck.core.vocabulary.numbers import format_day

GOLDEN = Path(__file__).parent.parent.parent / "tools" / "benchmarks" / "golden.py"
DOCUMENT: dict[str, Any] = {
    "schema": 3,
    "reps": [{"number": 1, "top_s": 0.1}, {"number": 2, "top_s": None}],
    "text": "a" * 200 + " 82.",
}
PAGE = "<main><p>Two reps.</p><p>All well.</p></main>"


def golden(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, GOLDEN, *words], capture_output=True, text=True, check=False)


def written(folder: Path, document: Any = DOCUMENT, page: str = PAGE) -> Path:
    (folder / "clips").mkdir(parents=True)
    text = document if isinstance(document, str) else json.dumps(document)
    (folder / "clips" / "set.json").write_text(text, encoding="utf-8")
    (folder / "clips" / "set.html").write_text(page, encoding="utf-8")
    return folder


@pytest.fixture
def before(tmp_path: Path) -> Path:
    return written(tmp_path / "before")


def test_equal_documents_pass(before: Path, tmp_path: Path) -> None:
    done = golden("compare", before, written(tmp_path / "after", json.dumps(DOCUMENT, indent=2)))
    assert (done.returncode, done.stdout) == (0, "2 files, 0 differ\n")


@pytest.mark.parametrize(
    ("document", "said"),
    [
        (DOCUMENT | {"schema": 4}, "schema: 3 → 4"),
        (json.dumps(DOCUMENT).replace("0.1", "0.10000000000000002"), "reps[0].top_s: 0.1 → 0.10000000000000002"),
        (DOCUMENT | {"schema": "3"}, 'schema: 3 → "3"'),
        (json.dumps(DOCUMENT).replace("3,", "3.0,"), "schema: 3 → 3.0"),
        (dict(reversed(DOCUMENT.items())), "order of keys schema, reps, text → text, reps, schema"),
        ({"reps": DOCUMENT["reps"], "text": DOCUMENT["text"]}, "schema: 3 → no such key"),
        (DOCUMENT | {"reps": DOCUMENT["reps"][:1]}, "reps: 2 items → 1"),
        (DOCUMENT | {"by_hand": False}, "by_hand: no such key → false"),
        (DOCUMENT | {"text": "a" * 200 + " 83."}, f'text: ...{"a" * 29} 82." → ...{"a" * 29} 83."'),
    ],
)
def test_a_changed_value_key_or_length_fails(before: Path, tmp_path: Path, document: Any, said: str) -> None:
    done = golden("compare", before, written(tmp_path / "after", document))
    assert done.returncode == 1
    assert "clips/set.json\n" in done.stdout
    assert said in done.stdout
    assert "2 files, 1 differ" in done.stdout


def test_a_changed_page_fails_with_the_head_of_the_difference(before: Path, tmp_path: Path) -> None:
    done = golden("compare", before, written(tmp_path / "after", page=PAGE.replace("Two", "Three")))
    assert done.returncode == 1
    assert "    -<p>Two reps.</p>\n    +<p>Three reps.</p>\n" in done.stdout


@pytest.mark.parametrize(("missing", "said"), [("after", "only in BEFORE"), ("before", "only in AFTER")])
def test_a_missing_file_fails(before: Path, tmp_path: Path, missing: str, said: str) -> None:
    after = written(tmp_path / "after")
    (tmp_path / missing / "clips" / "set.html").unlink()
    done = golden("compare", before, after)
    assert done.returncode == 1
    assert f"clips/set.html\n    {said}\n" in done.stdout


def test_nothing_to_compare_fails(tmp_path: Path) -> None:
    done = golden("compare", tmp_path, tmp_path)
    assert (done.returncode, done.stdout) == (1, "Nothing to compare.\n")


def test_listed_new_keys_pass_and_others_fail(before: Path, tmp_path: Path) -> None:
    new = DOCUMENT | {"by_hand": False, "reps": [rep | {"side": "left"} for rep in DOCUMENT["reps"]]}
    after = written(tmp_path / "after", new)
    listed = tmp_path / "keys.txt"
    listed.write_text("by_hand  # since a rep can be set by hand\nreps[].side\n", encoding="utf-8")
    assert golden("compare", before, after, "--new-keys", listed).returncode == 0
    assert golden("compare", before, after, "--new-keys", "by_hand, reps[].side").returncode == 0
    done = golden("compare", before, after, "--new-keys", "by_hand,side")
    assert done.returncode == 1
    assert 'reps[1].side: no such key → "left"' in done.stdout
    assert "by_hand" not in done.stdout
    # A listed key may be new, not gone and not another.
    assert golden("compare", after, before, "--new-keys", listed).returncode == 1
    other = written(tmp_path / "other", new | {"by_hand": True})
    assert golden("compare", after, other, "--new-keys", listed).returncode == 1


def told_on(today: date) -> str:
    """The forms of a day that commands print, for a demo made on this day."""
    last, first = today - timedelta(days=1), today - timedelta(days=40)
    return (
        f"{first}, {last} 17:42, from {format_day(first)} to {format_day(last)}; "
        f"<text>{first.day} {first:%b}</text> {today} {today.day:02}:59 reviewed on {format_day(today)}, 17:42"
    )


def test_documents_made_on_different_days_are_the_same() -> None:
    from golden import neutral

    days = (date(2026, 11, 30), date(2027, 1, 8), date(2028, 2, 29))
    texts = {neutral(told_on(today), today, {}) for today in days}
    assert texts == {
        "<day -40>, <day -1> 17:42, from <day -40> to <day -1>; "
        "<text><day -40></text> <day 0> <time> reviewed on <day 0> <time>"
    }


@pytest.mark.parametrize(
    "text", ["2019-03-12", "2026-12-01", "12 Mar 2019", "31 Feb", "1.10.20.", "0.10.11", "27:30 of 10.5"]
)
def test_other_days_and_numbers_are_left_alone(text: str) -> None:
    from golden import neutral

    assert neutral(text, date(2026, 11, 30), {}) == text


def test_paths_are_named() -> None:
    from golden import neutral

    assert neutral("Written: /x/out/a.html", date(2026, 11, 30), {"/x/out": "<out>"}) == "Written: <out>/a.html"


def test_a_recording_s_document_is_made_and_made_again_equal(tmp_path: Path) -> None:
    for name in ("one", "two"):
        done = golden("make", tmp_path / name, "--only", "000_lateral_raise")
        assert (done.returncode, done.stderr) == (0, "")
    document = json.loads((tmp_path / "one" / "sets" / "000_lateral_raise.json").read_text())
    assert [rep["number"] for rep in document["reps"]] == [1, 2, 3, 4, 5]  # as planned by its truth
    exact = json.loads((tmp_path / "one" / "sets" / "000_lateral_raise.exact.json").read_text())
    value, margin = (float.fromhex(text) for text in exact["measures"]["arm_elevation_peak left 1"])
    (said,) = [
        one
        for one in document["measures"]
        if (one["name"], one["side"], one["rep"]) == ("arm_elevation_peak", "left", 1)
    ]
    assert said["value"] == pytest.approx(value, abs=0.0051)  # two decimals
    assert value != said["value"]
    assert margin == pytest.approx(said["margin"], abs=0.011)
    done = golden("compare", tmp_path / "one", tmp_path / "two")
    assert (done.returncode, done.stdout.split(" ", 1)[1]) == (0, "files, 0 differ\n")
    done = golden("make", tmp_path / "one")
    assert done.returncode == 1
    assert "is not empty" in done.stderr


def test_a_word_that_no_document_has_is_told(tmp_path: Path) -> None:
    done = golden("make", tmp_path / "none", "--only", "no such set")
    assert done.returncode == 1
    assert "No document's name holds any of these words." in done.stderr


def test_another_checkout_s_package_is_not_taken_for_its_own(tmp_path: Path) -> None:
    from golden import MakingError, make

    folder = tmp_path / "checkout" / "tools" / "benchmarks" / "recordings" / "sets" / "tuning"  # a set, and no package
    folder.mkdir(parents=True)
    for end in (".npz.xz", ".truth.npz.xz"):
        kept = GOLDEN.parent / "recordings" / "sets" / "tuning" / f"000_lateral_raise{end}"
        (folder / kept.name).write_bytes(kept.read_bytes())
    with pytest.raises(MakingError, match="formcheck was taken from"):
        make(tmp_path / "checkout", tmp_path / "out")


def test_a_revision_there_is_not_is_told() -> None:
    done = golden("against", "no-such-revision")
    assert done.returncode == 1
    assert done.stderr.startswith("git cannot check out 'no-such-revision': ")
