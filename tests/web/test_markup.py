"""The page's templates: what they use is there, and what goes in is escaped."""

import re
from pathlib import Path

import pytest
from jinja2 import meta

import formcheck.web
from formcheck.report.wording import GRADE_WORDS, SHOWN_ORDER
from formcheck.web.markup import make_environment, render

STATIC = Path(formcheck.web.__file__).parent / "static"

ENVIRONMENT = make_environment()


@pytest.mark.parametrize("template", ENVIRONMENT.list_templates())
def test_a_template_uses_only_what_is_given(template: str) -> None:
    assert ENVIRONMENT.loader is not None
    source, _, _ = ENVIRONMENT.loader.get_source(ENVIRONMENT, template)
    used = meta.find_undeclared_variables(ENVIRONMENT.parse(source))
    assert used <= set(ENVIRONMENT.globals), used
    ENVIRONMENT.compile(source)  # which knows of filters


def test_text_is_escaped_and_what_a_template_made_is_not() -> None:
    mark = render("pieces", "mark", "met", "<b>")
    assert "&lt;b&gt;" in mark
    assert "<b>" not in mark
    listed = render("pieces", "list", [mark, "<i>"])
    assert mark in listed
    assert "&lt;i&gt;" in listed


def test_each_grade_has_its_own_shape_and_words_beside_its_colour() -> None:
    marks, words = set(), set()
    for grade in SHOWN_ORDER:
        heading = render("review", "grade_heading", grade, 2)
        assert 'aria-hidden="true"' in heading  # the shape; the words are read out
        (mark,) = re.findall(r'<span class="fc-mark (fc-\w+)" aria-hidden="true"><span>(.)</span></span>', heading)
        marks.add(mark)
        words.add(re.sub(r"<[^>]+>", " ", heading.replace(mark[1], "")))
        assert GRADE_WORDS[grade] in heading
    assert len(marks) == len(words) == len(SHOWN_ORDER)
    styles = "".join(path.read_text(encoding="utf-8") for path in STATIC.glob("*.css"))
    assert all(f".fc-mark.{name}" in styles for name, _ in marks)
