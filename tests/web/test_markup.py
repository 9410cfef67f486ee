"""The page's templates: what they use is there, and what goes in is escaped."""

import pytest
from jinja2 import meta

from formcheck.web.markup import make_environment, render

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
