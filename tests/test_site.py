"""README and docs as a site of plain files: every link leads somewhere, and nothing in it reaches a network."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LOADED = re.compile(r"""<(?:script|img|iframe|source)[^>]*\bsrc="([^"]+)"|<link[^>]*\bhref="([^"]+)\"""")
"""What a browser fetches by itself as it opens a page."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site, built as docs/conf.py says; a warning, such as a broken link, fails it."""
    out = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-c", "docs", "-d", str(out / "cache")]
    done = subprocess.run(
        [*command, ".", str(out / "html")], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr
    return out / "html"


def test_every_page_is_in_it(site: Path) -> None:
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")]
    missing = [page.name for page in pages if not (site / page.relative_to(ROOT)).with_suffix(".html").is_file()]
    assert missing == []


def test_it_opens_from_disk_without_a_network(site: Path) -> None:
    fetched = {
        (page.name, address)
        for page in site.rglob("*.html")
        for pair in LOADED.findall(page.read_text(encoding="utf-8"))
        for address in pair
        if address
    }
    assert len(fetched) > 20
    assert {(page, address) for page, address in fetched if "//" in address} == set()


def test_a_link_that_leads_nowhere_is_noticed(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text("# One\n\n[Nowhere](nowhere.md)\n", encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "sphinx",
        "-q",
        "-W",
        "-c",
        str(ROOT / "docs"),
        str(tmp_path),
        str(tmp_path / "out"),
    ]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode != 0
    assert "nowhere.md" in done.stderr
