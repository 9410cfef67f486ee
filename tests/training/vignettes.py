"""The invented cases of ``vignettes.toml``: sessions in, the right kind of advice out, read strictly."""

import tomllib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Answer = Literal["stop", "back_off", "ease", "hold", "raise", "none"]
Bar = Literal["pain", "form", "short", "filming", "effort"]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PastSession(_Strict):
    """One session of one exercise, as the head of ``vignettes.toml`` describes its keys."""

    days_ago: Annotated[int, Field(ge=0)]
    reps: Annotated[tuple[int, ...], Field(min_length=1)]
    exercise: str | None = None
    partial: int = 0
    load: float | None = None
    reserve: float | None = None
    effort: float | None = None
    pain: bool | None = None
    where: str | None = None
    remark: str | None = None
    remarks: tuple[str, ...] = ()
    not_met: dict[str, int] = {}
    not_met_sets: tuple[dict[str, int], ...] = ()
    range: float = 85.0
    lowering: float | None = None
    tracked: float = 1.0
    damaged: int | None = None


class Vignette(_Strict):
    """One case with its answer."""

    id: str
    exercise: str
    history: Annotated[tuple[PastSession, ...], Field(min_length=1)]
    answer: Annotated[tuple[Answer, ...], Field(min_length=1, max_length=2)]
    reason: str
    source: str
    plan: str | None = None
    bars: Bar | None = None


class _File(_Strict):
    vignettes: tuple[Vignette, ...]


def load_vignettes() -> tuple[Vignette, ...]:
    """All cases in their order; pydantic's ValidationError for anything not in the format."""
    text = Path(__file__).with_name("vignettes.toml").read_text(encoding="utf-8")
    return _File.model_validate(tomllib.loads(text)).vignettes
