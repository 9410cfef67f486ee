"""The worked example of the README and the example script, run; and the interface on a shipped clip."""

import json
import re
import runpy
import subprocess
import sys
from pathlib import Path

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
import pytest

import formcheck

ROOT = Path(__file__).resolve().parent.parent
SCRIPT = ROOT / "examples" / "plot_a_set.py"
CLIP = ROOT / "clips_demo" / "lateral_raise_front_range_lost.mp4"
NUMBER = re.compile(r"\d+(?:\.\d+)?")


def run_script(monkeypatch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> dict[str, object]:
    """Run the script in a folder without a screen; what it has at its end."""
    mpl.use("Agg", force=True)
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setattr(sys, "argv", [str(SCRIPT), *arguments])
    try:
        return runpy.run_path(str(SCRIPT), run_name="__main__")
    finally:
        plt.close("all")


def test_script_plots_the_stored_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    left = run_script(monkeypatch, tmp_path / "here")
    said = capsys.readouterr().out
    assert "Lateral raise to shoulder height: 6 reps" in said
    assert "Arms level with the shoulders at the top" in said
    (picture,) = (tmp_path / "here").iterdir()
    assert picture.name == "a_set.png"
    pixels = plt.imread(picture)
    assert pixels.shape[0] > 400
    assert pixels.shape[1] > 600
    course, tops = left["course"], left["tops"]
    assert course.lines[0].get_xdata().shape == left["analysis"].driver.shape  # type: ignore[attr-defined]
    assert len(tops.containers) == 2, "left and right"  # type: ignore[attr-defined]
    assert all(len(container.lines[0].get_xdata()) == 6 for container in tops.containers)  # type: ignore[attr-defined]


def test_script_is_in_cells() -> None:
    cells = [line for line in SCRIPT.read_text(encoding="utf-8").splitlines() if line.startswith("# %%")]
    assert len(cells) >= 4


# ---------------------------------------------------------------- on a shipped clip


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder that holds the committed landmarks of the clip."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "docs"))
        import write_tables
    write_tables.keep_landmarks(home)
    assert len(list((home / "recordings").iterdir())) == len(list((ROOT / "clips_demo").glob("*.mp4")))
    return home


@pytest.mark.pose
def test_committed_landmarks_are_those_the_pose_model_finds(kept: Path, tmp_path: Path) -> None:
    """But for another processor's rounding, which now and then moves a landmark by some pixels."""
    stored = formcheck.find_landmarks(CLIP, keep_in=kept / "recordings")
    found = formcheck.find_landmarks(CLIP, keep_in=tmp_path)
    assert stored.t.tolist() == found.t.tolist()
    apart = np.linalg.norm(stored.pixels - found.pixels, axis=2)
    assert np.nanmedian(apart) < 1.0
    assert np.nanpercentile(apart, 95) < 10.0


@pytest.mark.pose
def test_worked_example_is_what_the_command_prints(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Word by word; a number may be off by one in its last digit, as another processor rounds."""
    monkeypatch.syspath_prepend(str(ROOT / "docs"))
    import write_tables

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"```text\n(.*?)\n```", write_tables.block_of(readme, "example"), flags=re.S)
    printed, after = write_tables.run_example(kept).split(write_tables.SHOWN_TO)
    assert "All cautions: formcheck cautions" in " ".join(after.split())
    assert len(shown) == 1
    assert write_tables.EXAMPLE in write_tables.block_of(readme, "example")
    assert_alike(shown[0], printed, "python docs/write_tables.py --write --example puts this right")


def assert_alike(old: str, new: str, hint: str) -> None:
    """The same words, and the same numbers but for one in the last digit."""
    words = [" ".join(NUMBER.sub("#", text).split()) for text in (old, new)]
    assert words[0] == words[1], hint
    for before, now in zip(NUMBER.findall(old), NUMBER.findall(new), strict=True):
        digits = len(before.partition(".")[2])
        assert abs(float(before) - float(now)) <= 1.01 * 10**-digits, f"{before} there, {now} now: {hint}"


@pytest.mark.pose
def test_pictures_show_what_the_code_says(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The pictures were taken of a review of this clip; what they show of it is written beside them."""
    monkeypatch.syspath_prepend(str(ROOT / "docs"))
    import screenshots

    assert screenshots.CLIP == CLIP
    info = formcheck.SetInfo(screenshots.LOAD_KG, screenshots.TARGET)
    review = formcheck.review_clip(CLIP, screenshots.EXERCISE, set_info=info, keep_in=kept / "recordings").review
    shown = json.loads((ROOT / "docs" / "pictures" / "shown.json").read_text(encoding="utf-8"))
    assert len(shown) >= 2
    assert_alike("\n".join(shown), "\n".join(screenshots.says(review)), "python docs/screenshots.py takes them anew")


@pytest.mark.pose
def test_worked_example_tells_what_was_planted(kept: Path) -> None:
    """Truth file of the clip: range falls from the fifth rep on, the eighth is partial (clips_demo/README.md)."""
    review = formcheck.review_clip(CLIP, "lateral-raise", keep_in=kept / "recordings").review
    assert [rep.number for rep in review.reps] == list(range(1, 9))
    assert [rep.number for rep in review.reps if not rep.complete] == [8]
    lost = {
        rep for item in review.findings if item.check == "range-kept" and item.verdict == "not_met" for rep in item.reps
    }
    assert lost
    assert lost <= {5, 6, 7, 8}


@pytest.mark.pose
def test_python_of_the_page_runs_on_a_clip(kept: Path, tmp_path: Path) -> None:
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", page, flags=re.S)
    assert '"my-set.mp4"' in code
    code = code.replace(
        '"my-set.mp4", "lateral-raise"', f'{str(CLIP)!r}, "lateral-raise", keep_in={str(kept / "recordings")!r}'
    )
    here = tmp_path / "here"
    here.mkdir()
    done = subprocess.run([sys.executable, "-c", code], cwd=here, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == 8
    assert done.stdout.startswith("1 True Tempo(")
    assert list(here.iterdir()) == []
