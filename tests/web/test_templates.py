"""The page's templates: that what they take from Python is there, which no type checker sees."""

import re
from pathlib import Path

import pytest

from formcheck.report import wording
from formcheck.web import markup

TEMPLATES = sorted((Path(markup.__file__).parent / "templates").glob("*.j2"))


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_every_word_a_template_asks_for_is_there(template: Path) -> None:
    names = set(re.findall(r"\bwording\.(\w+)", template.read_text(encoding="utf-8")))
    assert {name for name in names if not hasattr(wording, name)} == set()


def test_templates_were_found() -> None:
    assert len(TEMPLATES) > 5
