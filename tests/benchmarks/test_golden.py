"""Documents made before and after a change: what is equal passes, and every difference is shown."""

import json
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

GOLDEN = Path(__file__).parent.parent.parent / "tools" / "benchmarks" / "golden.py"


def golden(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, GOLDEN, *words], capture_output=True, text=True, check=False)


def written(folder: Path, text: str) -> Path:
    folder.mkdir()
    (folder / "set.json").write_text(text, encoding="utf-8")
    return folder


def test_equal_documents_pass_and_changed_or_missing_ones_fail(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    from golden import report

    before = written(tmp_path / "before", '{"top_s": 0.1}\n')
    assert report(before, written(tmp_path / "same", '{"top_s": 0.1}\n')) == 0
    assert "1 files, all the same" in capfd.readouterr().out
    assert report(before, written(tmp_path / "changed", '{"top_s": 0.10000000000000002}\n')) == 1
    assert '+{"top_s": 0.10000000000000002}' in capfd.readouterr().out
    (tmp_path / "none").mkdir()
    assert report(before, tmp_path / "none") == 1
    assert report(tmp_path / "none", before) == 1


def test_only_the_time_behind_today_is_left_out() -> None:
    from golden import neutral

    today = date(2026, 11, 30)
    told = "2026-11-30 17:42, 2026-11-30T17:42:05Z, 30 Nov 2026, 07:05 | 29 Nov 2026, 17:42"
    assert neutral(told, today, {}) == ("2026-11-30 <time>, 2026-11-30 <time>, 30 Nov 2026 <time> | 29 Nov 2026, 17:42")


def test_paths_are_named() -> None:
    from golden import neutral

    assert neutral("Written: /x/out/a.html", date(2026, 11, 30), {"/x/out": "<out>"}) == "Written: <out>/a.html"


def test_a_recording_s_document_is_made_and_made_again_equal(tmp_path: Path) -> None:
    from golden import report

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
    assert report(tmp_path / "one", tmp_path / "two") == 0
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
