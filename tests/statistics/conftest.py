"""Simulated sets come from tools/benchmarks/, whose scripts import their neighbours by plain name."""

import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

BENCHMARKS = str(Path(__file__).parent.parent.parent / "tools" / "benchmarks")


@pytest.fixture(scope="session", autouse=True)
def _plain_names() -> Iterator[None]:
    sys.path.append(BENCHMARKS)
    yield
    sys.path.remove(BENCHMARKS)


@pytest.fixture
def sets() -> ModuleType:
    """The simulated sets."""
    import simulated_sets

    return simulated_sets


@pytest.fixture
def fatigue() -> ModuleType:
    """The benchmark of breakdowns."""
    import fatigue

    return fatigue
