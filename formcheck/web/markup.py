"""Fills the page's HTML and SVG templates; every string that goes in is escaped."""

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from formcheck.core.vocabulary.numbers import format_day, format_moment, format_reps, format_time, format_with_margin
from formcheck.report.phases import PHASE_WORDS
from formcheck.report.wording import (
    GRADE_NOTES,
    GRADE_WORDS,
    TEMPO_ORDER,
    capitalise,
    count,
    format_load,
    get_plain_name,
)

_GLOBALS = {
    "GRADE_NOTES": GRADE_NOTES,
    "GRADE_WORDS": GRADE_WORDS,
    "PHASE_WORDS": PHASE_WORDS,
    "TEMPO_ORDER": TEMPO_ORDER,
    "count": count,
    "format_day": format_day,
    "format_moment": format_moment,
    "format_reps": format_reps,
    "format_time": format_time,
    "format_with_margin": format_with_margin,
    "format_load": format_load,
    "get_plain_name": get_plain_name,
}
"""What every template may use."""


def render(template: str, macro: str, *values: object) -> Markup:
    """The text a macro of a template makes, safe to go into another.

    Parameters
    ----------
    template : name of a file in ``templates``, without ``.j2``.
    values : what the macro takes, in its order; of these only a `Markup` goes in as it is.
    """
    return Markup(getattr(_load_macros(f"{template}.j2"), macro)(*values))


@cache
def _load_macros(template: str) -> Any:
    return make_environment().get_template(template).module


def make_environment() -> Environment:
    """Jinja as the page's templates take it: what is not known is an error, text is escaped."""
    environment = Environment(
        loader=PackageLoader("formcheck.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(_GLOBALS)
    environment.filters["capitalise"] = capitalise
    return environment
