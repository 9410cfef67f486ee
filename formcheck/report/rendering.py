"""Renders the HTML templates beside this module into documents of one file each."""

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

import formcheck


def render_template(name: str, *, style: str = "report.css", **values: object) -> str:
    """A template with its values; every string among them is escaped.

    Parameters
    ----------
    style : the style sheet put in as it is, a file beside the template; nothing of a user is in it.
    """
    environment = Environment(
        loader=PackageLoader("formcheck.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    assert environment.loader is not None
    css = Markup(environment.loader.get_source(environment, style)[0])
    return environment.get_template(name).render(css=css, version=formcheck.__version__, **values)
