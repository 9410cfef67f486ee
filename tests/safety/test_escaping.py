"""Strings that come from files and people stay strings: in the report, in the PDF, in tables."""

import csv
import io
import urllib.request
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.model import Analysis
from formcheck.exercises.registry import get_exercise
from formcheck.formats.csv_table import write_csv
from formcheck.report.set_report import render_pdf, render_report
from tests.web.synthetic import synthetic_analysis

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style><svg onload=alert(1)>",
    "{{ 7 * 7 }}{% include 'x' %}",
    '<img src="http://192.0.2.1/x.png"/><a href="javascript:alert(1)">x</a>',
    "<b><i></b>&lt;&#x3C;font color=red>&",
    "]]><!--",
]


def poisoned(text: str) -> Analysis:
    """A review every free text of which is hostile."""
    analysis = synthetic_analysis(name=text)
    review = analysis.review
    return replace(
        analysis,
        review=replace(
            review,
            quality=replace(review.quality, notes=(text,)),
            findings=tuple(replace(finding, text=text, basis=text) for finding in review.findings),
            cautions=(text,),
            by_hand=(text,),
            exercise=replace(review.exercise, name=text),
        ),
    )


class Elements(HTMLParser):
    """Counts elements, and attributes that run something."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: dict[str, int] = {}
        self.running: list[str] = []
        self.words: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] = self.tags.get(tag, 0) + 1
        self.running += [name for name, value in attrs if name.startswith("on") or "javascript:" in (value or "")]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.mark.parametrize("text", HOSTILE)
def test_report(text: str) -> None:
    exercise = get_exercise("lateral-raise")
    plain = Elements(render_report(poisoned("harmless"), exercise))
    hostile = Elements(render_report(poisoned(text), exercise))
    assert hostile.tags == plain.tags
    assert hostile.running == plain.running
    assert "".join(hostile.words).count(text) >= 4


@pytest.mark.parametrize("text", HOSTILE)
def test_pdf(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Markup in a text would be read by what sets the pages, and a picture in it fetched."""

    def fetched(*_args: object, **_more: object) -> None:
        raise AssertionError("something was fetched")

    monkeypatch.setattr(urllib.request, "urlopen", fetched)
    made = render_pdf(poisoned(text), get_exercise("lateral-raise"))
    assert made.startswith(b"%PDF-")
    plain = render_pdf(poisoned("harmless"), get_exercise("lateral-raise"))
    for mark in (b"/URI", b"/JavaScript", b"/Launch", b"/Subtype /Image"):
        assert made.count(mark) == plain.count(mark), mark


@given(text=st.text(max_size=40) | st.sampled_from(["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "\r=1", "＝1"]))
def test_no_cell_of_a_table_is_a_formula(text: str) -> None:
    # OWASP, CSV Injection: a cell that begins with one of these may be run by a spreadsheet.
    written = write_csv(("a", "b"), [(text, "end")])
    rows = list(csv.reader(io.StringIO(written, newline="")))
    assert len(rows) == 2
    cell, end = rows[1]
    assert end == "end"
    assert not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert cell.lstrip("'").replace("\0", "") == text.replace("\0", "").lstrip("'")
