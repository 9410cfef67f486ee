"""The method page against the code: every constant and formula from outside is there once, with value and source."""

import re
from pathlib import Path

import pytest

from formcheck.core.model import Settings
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import load_references
from tests.outside_sources import MARK, TAGS, marked, numbers_in, told, value_of

PAGE = (Path(__file__).resolve().parent.parent / "docs" / "method.md").read_text(encoding="utf-8")
MARKED = marked()


def table(first_heading: str) -> list[list[str]]:
    """Cells of the table whose head begins with these words, without its head."""
    lines = PAGE.splitlines()
    (at,) = [number for number, line in enumerate(lines) if line.startswith(f"| {first_heading}")]
    rows = []
    for line in lines[at + 2 :]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]])
    return rows


ROWS = {row[0].strip("`"): row for row in table("in the code (`formcheck.`)")}


def test_every_figure_from_outside_has_its_row() -> None:
    missing = {name: " ".join(MARKED[name].split())[:200] for name in MARKED.keys() - ROWS.keys()}
    assert not missing, "a source beside them, but no row in docs/method.md"


def test_every_row_is_in_the_code() -> None:
    assert not ROWS.keys() - MARKED.keys(), "a row in docs/method.md, but no source beside it in the code"


def test_no_row_is_there_twice() -> None:
    names = [row[0] for row in table("in the code (`formcheck.`)")]
    assert len(names) == len(set(names)) >= 30


@pytest.mark.parametrize("name", ROWS)
def test_row_says_what_the_code_says(name: str) -> None:
    _, what, value, source = ROWS[name]
    assert what
    assert source
    held = numbers_in(value_of(name))
    if held:
        assert [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", value)] == held, value
    words = " ".join(MARKED[name].split()).lower()
    for tag in TAGS:
        if tag in words:
            assert tag in source.lower(), f"{name} is {tag}"
    for year in re.findall(r"\b(?:18|19|20)\d\d\b", " ".join(MARKED[name].split())):
        assert year in source, year


def test_the_walk_sees_constants_functions_fields_and_comments() -> None:
    found = dict(
        told(
            '"""Module, Smith 1999."""\n'
            "A = 1.0\n"
            '"""From memory."""\n'
            "# common practice\n"
            "B: float = 2.0\n"
            "class C:\n"
            "    d: float = 3.0\n"
            '    """closed form"""\n'
            "def f():\n"
            '    """Source: a book."""\n'
            "    # et al\n"
            "    return 1\n"
        )
    )
    assert found == {
        "": "Module, Smith 1999.",
        "A": "From memory.",
        "B": "# common practice",
        "C.d": "closed form",
        "f": "# et al",
    }
    for words in ("Smith 1999", "from memory", "Common practice", "closed form", "Source: x", "Smith et al"):
        assert MARK.search(words)
    assert not MARK.search("``common practice``")
    assert not MARK.search("rendered tuning sets")


def test_every_citation_is_listed_once_as_the_exercises_have_it() -> None:
    listed = {row[0].strip("`"): (row[1], row[2]) for row in table("key |")}
    assert listed == {key: (one.tag, one.text) for key, one in load_references().items()}


def test_every_setting_and_measure_is_listed() -> None:
    assert {row[0].strip("`"): row[1] for row in table("setting |")} == {
        name: str(field.default) for name, field in Settings.__dataclass_fields__.items()
    }
    assert {row[3].strip("`"): row[0] for row in table("number |")} == {
        name: term.plain for name, term in MEASURES.items()
    }


# What the text of the page says in passing, and where the code says it.
IN_PASSING = [
    (r"\+ (\d+)°·cos\(yaw\)", "signals.camera.YAW_TURNED_DEG"),
    (r"\+ (\d+)°·sin\(yaw\)", "signals.camera.YAW_SHORTENED_DEG"),
    (r"Within (\d+)° of straight in front", "signals.camera.FACING_WITHIN_DEG"),
    (r"if the line of the hips agrees\s+within (\d+)°", "signals.roll.HIPS_AGREE_DEG"),
    (r"for at most (half) a second are put back", "signals.steady.SWAP_LASTS_S"),
    (r"Gaps up to ([\d.]+) s are filled", "core.settings.Settings.max_gap_s"),
    (r"low-pass of (\d+) Hz", "core.settings.Settings.cutoff_hz"),
    (r"by more than (\d+) °/s² is a landmark that jumps", "signals.plausible.MOST_ACCELERATION"),
    (r"below (a quarter) of the set's median range", "reps.find.SMALLEST_SHARE"),
    (r"A dip narrower than ([\d.]+) s", "reps.find.NOTCH_S"),
    (r"below (\d+ %) of the set's median", "core.settings.Settings.partial_below"),
    (r"crosses (\d+ %) of that stroke's own highest speed", "core.settings.Settings.phase_speed_fraction"),
    (r"smoothed once more at ([\d.]+) cycles a stroke", "reps.strokes.TIMING_CYCLES"),
    (r"at least (\d+ %) of the rep's samples", "measures.window.MIN_SEEN_SHARE"),
    (r"median of the set's (three) largest", "measures.across_reps.BEST_REPS"),
    (r"on (\d+) shares of its own time", "measures.steadiness.SAMPLES_A_STROKE"),
    (r"with ρ = ([\d.]+) assumed", "pairing.merging.SHARED_ERROR"),
    (r"from (five) reps on", "statistics.rank_trend.FEWEST"),
    (r"explain the change in less than (\d+ %) of cases", "statistics.set_trends.ALPHA"),
    (r"is level, give or take (\d+)°", "signals.body_fit.curves.LEVEL_SD_DEG"),
    (r"length ([\d.]+) of the long side", "signals.camera.FOCAL_PER_LONG_SIDE"),
    (r"looks at (\d+) pictures a", "video.chunks.TRACKED_PER_S"),
    (r"every picture of\s+it, or (\d+) a second", "video.chunks.FINE_PER_S"),
    (r"(half) a trunk length or farther", "pose.fast_strokes.LEAST_WAY"),
    (r"in less than ([\d.]+) s is looked at again", "pose.fast_strokes.FAST_S"),
]
WORDS = {"half": 0.5, "a quarter": 0.25, "three": 3.0, "five": 5.0}


@pytest.mark.parametrize(("words", "name"), IN_PASSING, ids=[name for _, name in IN_PASSING])
def test_what_the_text_says_in_passing_is_what_the_code_has(words: str, name: str) -> None:
    found = re.search(words, PAGE)
    assert found is not None, words
    said = found.group(1)
    number = WORDS[said] if said in WORDS else float(said.removesuffix(" %")) / (100 if said.endswith("%") else 1)
    assert numbers_in(value_of(name)) == [number]


def test_the_reader_is_told_why_to_doubt() -> None:
    assert "## Why you should doubt this number" in PAGE
    assert "accuracy.md" in PAGE
    assert not re.search(r"mean error|\d+ % of \d+", PAGE), "accuracy figures belong into accuracy.md"
