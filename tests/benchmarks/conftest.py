"""The scripts of tools/benchmarks/ and tools/render/ import their neighbours by plain name."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent


@pytest.fixture(scope="session", autouse=True)
def _plain_names() -> Iterator[None]:
    added = [str(ROOT / "tools" / "benchmarks"), str(ROOT / "tools" / "render")]
    sys.path.extend(added)
    yield
    for folder in added:
        sys.path.remove(folder)
