"""A stored review with everything the page needs, made without a pose model."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.capture.recording import save_recording
from formcheck.model import Analysis
from formcheck.page import jobs
from formcheck.page.shelf import artefacts
from formcheck.store import Store
from formcheck.store.home import default_store
from tests.page.synthetic import synthetic_analysis, synthetic_recording

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def launched(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Folders of the jobs that would have been started; no process is."""
    started: list[Path] = []
    monkeypatch.setattr(jobs, "_launch", started.append)
    return started


@pytest.fixture
def store_review(formcheck_home: Path) -> Callable[..., int]:
    """Stores an analysis and, unless told not to, its drawn files."""

    def store(analysis: Analysis | None = None, *, drawn: bool = True) -> int:
        analysis = analysis or synthetic_analysis()
        with Store.open(default_store()) as opened:
            number = opened.save_review(analysis.review, created_at=datetime(2026, 11, 25, 18, 30, tzinfo=UTC))
        if drawn:
            files = artefacts(formcheck_home, number)
            files.folder.mkdir(parents=True)
            files.overlay.write_bytes(b"not looked at by these tests")
            files.report.write_text("<!DOCTYPE html>", encoding="utf-8")
            files.pictures_file.write_text(json.dumps({1: "data:image/jpeg;base64,AAAA"}), encoding="utf-8")
            save_recording(synthetic_recording(analysis), files.recording)
        return number

    return store


@pytest.fixture
def open_page(formcheck_home: Path) -> Callable[..., AppTest]:
    """Opens the page at an address and runs it once."""

    def open_at(**query: str) -> AppTest:
        page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
        for name, value in query.items():
            page.query_params[name] = value
        return page.run()

    return open_at
