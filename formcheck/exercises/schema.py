"""The strict format of an exercise file.

An exercise is data: names from `formcheck.core.vocabulary`, limits with unit and tolerance, the camera views
that can show each measure, cue texts and source keys. No expressions, no code.
"""

from collections.abc import Container
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator

from formcheck.core.model import Sides, ViewName
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.core.vocabulary.joints import Joint

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=600)]
Key = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Number = Annotated[float, Field(allow_inf_nan=False)]


def _one_of(names: Container[str], kind: str) -> AfterValidator:
    def check(value: str) -> str:
        if value not in names:
            raise ValueError(f"unknown {kind} {value!r}")
        return value

    return AfterValidator(check)


SignalName = Annotated[str, _one_of(SIGNALS, "signal")]
MeasureName = Annotated[str, _one_of(MEASURES, "measure")]
Position = Literal["standing", "seated", "bent-over", "prone"]


class FieldError(ValueError):
    """A value does not fit the others; `key` is its place within the table it stands in."""

    def __init__(self, key: str, message: str) -> None:
        super().__init__(message)
        self.key = key


class Strict(BaseModel):
    """A table in which nothing is converted and nothing may be unknown."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Filming(Strict):
    """How to place the camera for this exercise."""

    best_view: ViewName | Literal["side"]
    advice: Text
    phone_height: Literal["hip", "elbow", "chest", "shoulder"] = "chest"
    """The lifter's own height at which the phone stands, in the posture of the exercise."""
    distance_m: Annotated[tuple[Number, Number], Field(strict=False)] = (3.0, 4.0)
    """From and to how far from the lifter, metres."""
    room_above: bool = False
    """The hands go above the head: the picture needs room there."""

    @model_validator(mode="after")
    def _near_before_far(self) -> Self:
        if not 0 < self.distance_m[0] <= self.distance_m[1]:
            raise FieldError("distance_m", "give the shorter distance first, both above 0")
        return self


class Driver(Strict):
    """The signal whose ups and downs are the reps, by the plane the camera shows."""

    frontal: SignalName
    sagittal: SignalName
    oblique: SignalName
    concentric: Literal["rising", "falling"]
    first: Literal["concentric", "eccentric"]
    minimum_range: Annotated[Number, Field(gt=0)]
    """A movement smaller than this is no repetition, degrees."""
    unit: Literal["deg"]
    moves_shoulders: bool = False
    """The lift itself raises and lowers the shoulders, so their height does not distinguish it from setting up."""

    def signal_in(self, plane: Literal["frontal", "sagittal", "oblique"]) -> str:
        """The signal for a camera that sees this plane."""
        return {"frontal": self.frontal, "sagittal": self.sagittal, "oblique": self.oblique}[plane]


class MeasureUse(Strict):
    """A measure this exercise reports, and the views that can show it: none where no single camera can.

    A file may give the name alone: the views are then those of `measures.toml`.
    """

    name: MeasureName
    views: Annotated[tuple[ViewName, ...], Field(strict=False)]


class Check(Strict):
    """One limit on one measure, with what to say about it."""

    id: Key
    title: Text
    measure: MeasureName
    measure_was: MeasureName | None = None
    """The measure it was judged by before: own limits set for that one do not hold any more."""
    at_least: Number | None = None
    at_most: Number | None = None
    fault_at: Number | None = None
    """A value at which a coach would name the fault, beyond the limit, same unit: every view that decides the check
    tells it (docs/checks.md). None: not said."""
    tolerance: Annotated[Number, Field(ge=0)] = 0.0
    """What is let pass beyond the limit, same unit."""
    unit: str
    absolute: bool = False
    """Judge the size of the value, whatever its sign."""
    reps: Literal["all", "complete"] = "complete"
    views: Annotated[tuple[ViewName, ...], Field(min_length=1, strict=False)] | None = None
    """Views that can decide it, when fewer than the measure's own."""
    cue: Text
    """What to say to the lifter when it is not met."""
    protects: Literal["lower back", "shoulders", "elbows", "knees"] | None = None
    """What is spared by keeping it, where the cautions of the trade say so: such a point is changed first."""
    source: Key
    change_at_most: Annotated[Number, Field(gt=0)] | None = None
    """How much worse a rep may be than the mean of the set's first three, same unit. None: not asked."""
    change_title: Text | None = None
    """What the change within the set is called; it and the two below are given where a change is asked about."""
    change_word: Text | None = None
    """What a rep that is worse is, beside the first ones: shallower, lower, more bent."""
    change_cue: Text | None = None
    """What to say to the lifter when it changes."""

    @model_validator(mode="after")
    def _whole_change(self) -> Self:
        for key in ("change_title", "change_word", "change_cue"):
            if (getattr(self, key) is None) != (self.change_at_most is None):
                raise FieldError(key, "change_at_most, change_title, change_word and change_cue belong together")
        return self

    @model_validator(mode="after")
    def _one_limit(self) -> Self:
        if (self.at_least is None) == (self.at_most is None):
            raise ValueError("exactly one of at_least and at_most is needed")
        unit = MEASURES[self.measure].unit
        if self.unit != unit:
            raise ValueError(f"unit {self.unit!r} does not fit {self.measure}, which is in {unit!r}")
        if self.fault_at is not None and (self.fault_at < self.limit) != (self.at_least is not None):
            raise FieldError("fault_at", f"{self.fault_at:g} is not beyond the limit")
        return self

    @property
    def limit(self) -> float:
        """The limit itself, without the tolerance."""
        value = self.at_least if self.at_least is not None else self.at_most
        assert value is not None
        return value


class UnseenPoint(Strict):
    """A point of form that no camera shows, and why: named in every review instead of left out."""

    id: Key
    title: Text
    reason: Text


class CheckChange(Strict):
    """What a variation asks differently of one check; what is not given stays."""

    check: Key
    title: Text | None = None
    at_least: Number | None = None
    at_most: Number | None = None
    fault_at: Number | None = None
    tolerance: Annotated[Number, Field(ge=0)] | None = None
    cue: Text | None = None
    source: Key | None = None


class Variation(Strict):
    """The same lift done for another emphasis or in another place."""

    id: Key
    name: Text
    summary: Text
    position: Position | None = None
    sides: Sides | None = None
    without: Annotated[tuple[Key, ...], Field(strict=False)] = ()
    """Checks that do not apply to it."""
    changes: Annotated[tuple[CheckChange, ...], Field(strict=False)] = ()
    measures: Annotated[tuple[MeasureUse, ...], Field(strict=False)] = ()
    """Measures it has beyond the exercise's own; checks and untold points likewise."""
    checks: Annotated[tuple[Check, ...], Field(strict=False)] = ()
    untold: Annotated[tuple[UnseenPoint, ...], Field(strict=False)] = ()


class Exercise(Strict):
    """One exercise, as read from its file; references and cautions are resolved by the registry."""

    id: Key
    name: Text
    summary: Text
    position: Position
    sides: Sides = "both"
    """Which arms are expected to work: both at once, one, or both in turn (`alternating`); the recording decides."""
    joints: Annotated[tuple[Joint, ...], Field(strict=False)] = ()
    """The joints it loads (`formcheck.core.vocabulary.joints`); where none is named, pain anywhere counts."""
    filming: Filming
    driver: Driver
    measures: Annotated[tuple[MeasureUse, ...], Field(min_length=1, strict=False)]
    checks: Annotated[tuple[Check, ...], Field(min_length=1, strict=False)]
    cautions: Annotated[tuple[Key, ...], Field(strict=False)] = ()
    """Those of this lift; the general ones hold for every exercise without being named."""
    untold: Annotated[tuple[UnseenPoint, ...], Field(strict=False)] = ()
    variations: Annotated[tuple[Variation, ...], Field(strict=False)] = ()

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        names = [use.name for use in self.measures]
        points = [*(check.id for check in self.checks), *(item.id for item in self.untold)]
        variations = [item.id for item in self.variations]
        named = (("joint", self.joints), ("measure", names), ("check", points), ("variation", variations))
        for kind, values in named:
            doubled = {value for value in values if values.count(value) > 1}
            if doubled:
                raise FieldError(f"{kind}s", f"{sorted(doubled)[0]!r} is given twice")
        for check in self.checks:
            if check.measure not in names:
                raise FieldError(f"checks.{check.id}.measure", f"{check.measure!r} is not among the measures listed")
            if not self.views_for(check):
                raise FieldError(f"checks.{check.id}.measure", f"no view shows {check.measure!r}")
        return self

    def views_of(self, measure: str) -> tuple[ViewName, ...]:
        """Views that can show a measure; empty when the exercise does not use it."""
        return next((use.views for use in self.measures if use.name == measure), ())

    def views_for(self, check: Check) -> tuple[ViewName, ...]:
        """Views that can decide a check."""
        return check.views if check.views is not None else self.views_of(check.measure)
