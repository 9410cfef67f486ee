"""An empty store, and a review to put into it."""

import dataclasses
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.core.model import Review, SecondCamera
from formcheck.formats import decode

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="session")
def review() -> Review:
    return decode((DATA / "review_v1.json").read_bytes())


@pytest.fixture(scope="session")
def of_clip(review: Review) -> Callable[[int], Review]:
    """The review, of another clip for each number."""

    def made(number: int) -> Review:
        clip = dataclasses.replace(review.clip, sha256=f"{number:064x}", name=f"invented-set-{number}.mp4")
        return dataclasses.replace(review, clip=clip)

    return made


def by_two(first: Review, second: Review) -> Review:
    """The first review, as of a set that the clip of the second shows as well, from the left."""
    view = dataclasses.replace(second.view, name="left", yaw_deg=88.0)
    return dataclasses.replace(
        first, second=SecondCamera(second.clip, view, second.quality, 1.25, 0.05, 0.97, "movement", "first")
    )


def one_sentence(error: BaseException) -> str:
    text = str(error)
    assert "\n" not in text
    assert text.endswith(".")
    return text
