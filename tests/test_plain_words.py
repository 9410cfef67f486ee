"""Texts a user reads, read as someone who lifts but never measured: no term without its plain word beside it."""

import re
from collections.abc import Iterator

import pytest

from formcheck.exercises.registry import cautions, load_exercises, references
from formcheck.report import wording
from formcheck.training.advice import shipped_rules
from formcheck.vocabulary import MEASURES, SIGNALS

# Our own list: the term, and the plain words one of which must stand in the same text; none: it is not used at all.
TERMS = {
    "landmark": (),
    "driver": (),
    "kinematic": (),
    "sagittal": (),
    "abduction": (),
    "pronat": (),
    "supinat": (),
    "half-width": (),
    "concentric": ("lift",),
    "eccentric": ("lower",),
    "median": ("middle",),
    "percentile": (),
    "spectral": ("evenly",),
    "root mean square": ("usual",),
    "goniometer": ("protractor",),
    "impingement": ("pinching",),
    "flexion": ("raise", "bend"),
    "arterial": ("blood pressure",),
    "yaw": (),
    "oblique": (),
}


def texts() -> Iterator[tuple[str, str]]:
    """(where, text) of what exercises, cautions, sources, rules, numbers and reading notes say."""
    for exercise in load_exercises().values():
        yield exercise.id, " | ".join((exercise.name, exercise.summary, exercise.filming.advice))
        for point in exercise.checks:
            yield f"{exercise.id}:{point.id}", f"{point.title} | {point.cue}"
        for untold in exercise.untold:
            yield f"{exercise.id}:{untold.id}", f"{untold.title} | {untold.reason}"
        for variation in exercise.variations:
            yield f"{exercise.id}/{variation.id}", f"{variation.name} | {variation.summary}"
            for point in variation.checks:
                yield f"{exercise.id}/{variation.id}:{point.id}", f"{point.title} | {point.cue}"
            for untold in variation.untold:
                yield f"{exercise.id}/{variation.id}:{untold.id}", f"{untold.title} | {untold.reason}"
    for caution in cautions().values():
        yield caution.key, caution.text
    for source in references().values():
        yield source.key, source.text
    for rule in shipped_rules().rules:
        yield rule.id, f"{rule.text} | {rule.doubt}"
    for measure in MEASURES.values():
        yield measure.name, f"{measure.plain} | {measure.meaning}"
    for signal in SIGNALS.values():
        yield signal.name, signal.plain
    for title, text in wording.READING:
        yield title, f"{title} | {text}"


@pytest.mark.parametrize("term", TERMS)
def test_no_term_without_its_plain_word(term: str) -> None:
    found = [(where, text) for where, text in texts() if re.search(rf"\b{term}", text, flags=re.I)]
    bare = [where for where, text in found if not any(word in text.lower() for word in TERMS[term])]
    assert bare == []


def test_the_texts_are_read() -> None:
    read = dict(texts())
    assert len(read) > 200
    assert "Largest angle between upper arm and trunk" in read["arm_elevation_peak"]
    assert "spotter" in read["overhead-load"]
