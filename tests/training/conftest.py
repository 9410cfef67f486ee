"""Simulated sets come from benchmarks/, whose scripts import their neighbours by plain name."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

BENCHMARKS = str(Path(__file__).parent.parent.parent / "benchmarks")


@pytest.fixture(scope="session", autouse=True)
def _plain_names() -> Iterator[None]:
    sys.path.append(BENCHMARKS)
    yield
    sys.path.remove(BENCHMARKS)
