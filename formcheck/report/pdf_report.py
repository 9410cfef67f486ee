"""The report as a PDF: the HTML report under a style sheet for paper."""

import io
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from formcheck.core.model import Analysis
from formcheck.exercises.schema import Exercise
from formcheck.report.figures import KeyPicture
from formcheck.report.front_page import SetContext
from formcheck.report.html_report import render_report


def render_pdf(
    analysis: Analysis,
    exercise: Exercise,
    pictures: Sequence[KeyPicture] = (),
    *,
    context: SetContext | None = None,
    reviewed_on: date | None = None,
) -> bytes:
    """The report of one review as PDF; the same review gives the same bytes.

    Parameters
    ----------
    pictures, context : as for `render_report`.
    reviewed_on : the day to print; none is printed without it.
    """
    from matplotlib import get_data_path
    from reportlab import rl_config
    from xhtml2pdf import pisa
    from xhtml2pdf.config.resources import ResourceAccessPolicy

    rl_config.invariant = 1
    html = render_report(analysis, exercise, pictures, context=context, reviewed_on=reviewed_on, paper=True)
    # matplotlib brings the DejaVu letters along: Latin, Greek, Cyrillic and all signs used here. Nothing else is read.
    fonts = Path(get_data_path()) / "fonts" / "ttf"
    policy = ResourceAccessPolicy(allow_remote=False, base_dir=fonts)
    out = io.BytesIO()
    pisa.CreatePDF(
        "".join(char if char.isprintable() or char in "\n\u00a0" else " " for char in html),
        dest=out,
        link_callback=lambda name, _base: str(fonts / name) if name.endswith(".ttf") else name,
        resource_policy=policy,
    )
    return out.getvalue()
