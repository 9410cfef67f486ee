"""Builds README and docs as a site of plain files, to be opened from disk: nothing in it reaches a network.

    python -m sphinx -W --keep-going -c docs . build/site      build/site/README.html is its first page

``-W``: a link that leads nowhere is an error. The pages are the files that are read in the repository.
"""

from typing import Any

import formcheck

project = "formcheck"
author = "formcheck's contributors"
release = version = formcheck.__version__
extensions = ["myst_parser"]
root_doc = "README"
include_patterns = ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "clips_demo/README.md", "docs/*.md"]
exclude_patterns = [".venv", "build"]
myst_heading_anchors = 4
"""Headings of this depth can be linked to, by the names that code hosts give them."""
suppress_warnings = ["myst.header", "misc.highlighting_failure"]
"""Pages that begin below their title; blocks of invented formats."""
html_theme = "furo"
html_title = f"formcheck {release}"
html_theme_options = {"source_view_link": ""}
html_copy_source = False
html_show_sourcelink = False

CONTENTS = {
    "By need": "first-set ten-clips client-weeks own-exercise own-limits python scale",
    "Reference": "commands checks review-format training-format",
    "How far to trust it": "method verdicts rendered-sets accuracy real-people safety",
    "Working on it": "design benchmarks trial",
}


def add_contents(app: Any, page: str, source: list[str]) -> None:
    """Put the table of contents below the README: a code host would show its markup as code."""
    if page != root_doc:
        return
    trees = {title: [f"docs/{name}" for name in names.split()] for title, names in CONTENTS.items()}
    trees["Working on it"] += ["DEVELOPERS", "CHANGELOG", "clips_demo/README"]
    for title, names in trees.items():
        source[0] += "\n```{toctree}\n:hidden:\n:caption: " + title + "\n" + "\n".join(names) + "\n```\n"


def setup(app: Any) -> None:
    """What Sphinx calls once."""
    app.connect("source-read", add_contents)
