"""Fills the page's HTML and SVG templates; every string that goes in is escaped."""

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from formcheck.report import wording
from formcheck.report.phases import PHASE_WORDS


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
    environment = Environment(
        loader=PackageLoader("formcheck.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(wording=wording, PHASE_WORDS=PHASE_WORDS)
    environment.filters["capital"] = wording.capital
    return environment.get_template(template).module
