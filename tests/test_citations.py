"""Every source that is named can be looked up: who, when, and where it was printed, or it is marked as none.

Standard for the form: a citation carries author, date and where it is found (ISO 690:2021, from memory).
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from formcheck.coaching.advice import load_rules
from formcheck.exercises.limits import OWN_LIMIT
from formcheck.exercises.registry import load_cautions, load_exercises, load_references
from tests.test_method import table

FORMCHECK = Path(__file__).resolve().parent.parent / "formcheck"
TAGS = {"published", "from memory", "common practice"}
NO_SOURCE = ("common practice", "closed form", "rendered")
"""A part of a source that says so needs nothing to be looked up: a fact of the trade, a derivation, our own sets."""
YEAR = re.compile(r"\b(?:18|19|20)\d\d\b")
PLACE = re.compile(
    r"\b\d{1,3}(?:\(\d+\))?:[A-Z]?\d+"  # volume:page
    r"|\b\d+(?:st|nd|rd|th) edition\b"
    r"|\bISO(?:/IEC)? \d+"
    r"|\bReport \d[\d.]+"
    r"|\b[a-z0-9-]+(?:\.[a-z0-9-]+)*\.(?:org|com|dev|edu|gov)\b"
)


def can_be_found(text: str) -> bool:
    """Whether a text names a year or an address, and the place within a journal, book, report or site."""
    return PLACE.search(text) is not None and (YEAR.search(text) is not None or "/" in text or ".dev" in text)


def keys_in_use() -> Iterator[tuple[str, str]]:
    """(where, key) of every source that exercises, variations, cautions and rules name."""
    for exercise in load_exercises().values():
        for check in exercise.checks:
            yield f"{exercise.id}:{check.id}", check.source
        for variation in exercise.variations:
            for added in variation.checks:
                yield f"{exercise.id}/{variation.id}:{added.id}", added.source
            for change in variation.changes:
                if change.source is not None:
                    yield f"{exercise.id}/{variation.id}:{change.check}", change.source
    for caution in load_cautions().values():
        yield caution.key, caution.source
    for entry in tomllib.loads((FORMCHECK / "coaching" / "advice.toml").read_text(encoding="utf-8"))["rules"]:
        yield entry["id"], entry["source"]
    yield "own limits", OWN_LIMIT


def test_no_key_dangles_and_no_source_stands_unused() -> None:
    used = dict(keys_in_use())
    assert len(used) > 100
    assert {where: key for where, key in used.items() if key not in load_references()} == {}
    assert load_references().keys() - set(used.values()) == set()
    assert {rule.id for rule in load_rules().rules} <= used.keys()


@pytest.mark.parametrize("key", load_references())
def test_each_source_has_its_tag_and_can_be_looked_up(key: str) -> None:
    source = load_references()[key]
    assert source.tag in TAGS
    if source.tag != "common practice":
        assert can_be_found(source.text), source.text
    for work in re.findall(r"[A-Z]\w+ (?:et al\.|& \w+) \d{4}[^;()]*", source.text):
        assert can_be_found(work), work


ROWS = [(row[0].strip("`"), row[3]) for row in table("in the code (`formcheck.`)")]


@pytest.mark.parametrize(("name", "source"), ROWS)
def test_each_row_of_the_method_page_can_be_looked_up(name: str, source: str) -> None:
    """Each work a row names stands between semicolons; the tags stand between them too."""
    none_needed = any(words in source for words in NO_SOURCE)
    works = [part for part in source.split(";") if YEAR.search(part)]
    assert works or none_needed or can_be_found(source), f"{name}: {source}"
    for work in works:
        assert can_be_found(work), work


def test_what_cannot_be_looked_up_is_seen() -> None:
    for slight in ("Weir 2005", "as public pages list them", "Winter, chapter 3", "Epley 1985; from memory"):
        assert not can_be_found(slight)
    for enough in ("Weir 2005, J Strength Cond Res 19:231", "Winter 2009, 4th edition", "ISO 7250-1:2017"):
        assert can_be_found(enough)


# ---------------------------------------------------------------- how far the arms go up


ABDUCTION_MEAN = {"men": 151.5, "women": 149.7}
"""Active abduction of the right shoulder, 2404 adults without complaints: Gill et al. 2020, BMC Musculoskelet Disord
21:676."""
FLEXION_MEAN = {"men": 161.5, "women": 158.5}
"""Active flexion, the same source."""


def test_nobody_is_told_to_go_on_who_raises_the_arms_as_far_as_adults_do() -> None:
    exercises = load_exercises()
    (sideways,) = [check for check in exercises["overhead-lateral-raise"].checks if check.id == "overhead"]
    assert sideways.limit < min(ABDUCTION_MEAN.values()) - 5
    assert sideways.source == "overhead-range"
    (forward,) = [item for item in exercises["front-raise"].variations if item.id == "overhead"]
    (height,) = [change for change in forward.changes if change.check == "height"]
    assert height.at_least is not None
    assert height.at_least < min(FLEXION_MEAN.values()) - 5
    assert height.source == "overhead-range-forward"
