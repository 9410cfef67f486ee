"""The document's parts as strict types; the published JSON Schema is made from these."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    FailFast,
    Field,
    PlainSerializer,
    StringConstraints,
    model_validator,
)

from formcheck.core.model import CameraUsed, FindingKind, Grade, MarginOrigin, Reason, Side, Sides, Verdict, ViewName


def round_value(value: float | None, decimals: int) -> float | None:
    """The value to so many decimals; never a signed zero, so equal values make equal text."""
    return None if value is None else round(value, decimals) + 0.0


def _round_to(decimals: int) -> PlainSerializer:
    return PlainSerializer(lambda value: round_value(value, decimals))


Count = Annotated[int, Field(ge=0, le=10**9)]
Positive = Annotated[int, Field(ge=1, le=10**9)]
Seconds = Annotated[float, Field(ge=0), _round_to(3)]
Rate = Annotated[float, Field(ge=0), _round_to(3)]
Share = Annotated[float, Field(ge=0, le=1), _round_to(4)]
# A list stops at its first wrong item: millions of them would else each be remembered as an error.
Texts = Annotated[tuple[str, ...], FailFast()]
Day = date
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class Part(BaseModel):
    """Base of all parts: wrong types, NaN and infinity are refused, unknown keys are ignored.

    A reader may forbid unknown keys for one document (``extra="forbid"`` of pydantic's ``model_validate``).
    """

    model_config = ConfigDict(
        extra="ignore", frozen=True, strict=True, allow_inf_nan=False, use_attribute_docstrings=True
    )


class Clip(Part):
    """The clip that was looked at."""

    name: str
    """File name without its folder."""
    sha256: Sha256
    """SHA-256 of the file."""
    width: Positive
    """Pixels of the upright picture with square pixels."""
    height: Positive
    """Pixels of the upright picture with square pixels."""
    duration_s: Seconds
    """Length of the clip in seconds."""
    frames: Count
    """Number of frames."""
    frame_rate: Rate
    """Mean frames a second, from the true presentation times."""
    variable_rate: bool
    """Whether the time between frames varies."""
    codec: str
    """Name of the video codec."""


class PoseModel(Part):
    """The pose model that found the landmarks."""

    name: str
    """Name of the model."""
    sha256: Sha256
    """SHA-256 of the model bundle."""
    every_picture: bool = False
    """Whether all pictures of the clip were tracked; left out where only as many as a review needs were."""


class Exercise(Part):
    """The exercise the set was judged as."""

    id: Annotated[str, Field(min_length=1)]
    """Identifier of the exercise file."""
    name: str
    """Name for the reader."""


class Set(Part):
    """What the lifter or coach said about the set."""

    load_kg: Annotated[float, Field(ge=0), _round_to(3)] | None
    """Load in kilograms; null when not given."""
    target_reps: Positive | None
    """Repetitions aimed for; null when not given."""
    target_each_side: bool = False
    """Whether so many are meant of the left and as many of the right; left out where they are of the whole set."""


class View(Part):
    """Where the camera stood, seen from the lifter."""

    name: ViewName
    """Before the lifter, behind, at their left, at their right, or between."""
    yaw_deg: Annotated[float, _round_to(2)] | None
    """Angle around the lifter in degrees: 0 before them, 90 at their left, 180 behind, -90 at their right."""
    yaw_margin_deg: Annotated[float, Field(ge=0), _round_to(2)] | None
    """Half-width of the 95 % interval of the angle."""
    origin: Literal["estimated", "given"]
    """Whether the view was estimated from the clip or given by the user."""
    known: bool = True
    """False where nothing in the clip tells where the camera stood: the name is then a stand-in, not to be shown."""


Code = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=60)]


class _FailFast(FailFast):
    __hash__ = object.__hash__  # a union asks for it


_Listed = Annotated[tuple[int | float | str, ...], _FailFast()]


class Message(Part):
    """What a sentence says, as a code with parameters."""

    code: Code
    """Which sentence; the codes are listed in docs/review-format.md. A reader may meet codes it does not know."""
    parameters: Annotated[Mapping[str, int | float | str | _Listed], Field(max_length=20)]
    """Name to value, or to a list of values; which names a code has is listed with the codes."""


class QualityProblem(Part):
    """Why the clip cannot be reviewed, or only in part."""

    code: Code
    """Which problem; the codes are listed in docs/review-format.md. A reader may meet codes it does not know."""
    parameters: Annotated[Mapping[str, int | float | str], Field(max_length=20)]
    """Name to value; which names a code has is listed with the codes."""


class Quality(Part):
    """How well the clip can be measured."""

    tracked_share: Share
    """Share of frames with a person found."""
    frame_rate: Rate
    """Mean frames a second."""
    subject_height_px: Annotated[float, Field(ge=0), _round_to(1)] | None
    """Median height of the tracked body in pixels."""
    out_of_frame: Mapping[str, Share]
    """Landmark name to the share of tracked frames in which it lies outside the picture."""
    low_visibility: Mapping[str, Share]
    """Landmark name to the share of tracked frames in which it is hidden."""
    notes: Texts
    """Sentences about what limits this clip and what to film instead."""
    landmark_jitter: Share | None = None
    """How much the tracked arms shake, root mean square, in trunk lengths; null where it is not known."""
    problems: Annotated[tuple[QualityProblem, ...], FailFast()] = ()
    """What makes a review of this clip impossible or incomplete, the gravest first; empty for a sound clip."""
    notes_coded: Annotated[tuple[Message, ...], FailFast()] = ()
    """The notes as codes, in their order; empty in reviews made before notes were coded."""


class Tempo(Part):
    """The four phases of a repetition, in the trade's order."""

    eccentric_s: Seconds
    """Lowering, in seconds."""
    bottom_pause_s: Seconds
    """Pause at the stretched end, in seconds."""
    concentric_s: Seconds
    """Lifting, in seconds."""
    top_pause_s: Seconds
    """Pause at the shortened end, in seconds."""


class Rep(Part):
    """One repetition."""

    number: Positive
    """Place in the set, from 1."""
    start_s: Seconds
    """Begin, in seconds of the clip."""
    top_s: Seconds
    """Moment of the shortened end."""
    end_s: Seconds
    """End."""
    complete: bool
    """False for a partial repetition."""
    tempo: Tempo
    by_hand: bool = False
    """Whether a person set its start, top or end."""
    side: Side | None = None
    """The arm that makes it while the other rests; null for both at once."""

    @model_validator(mode="after")
    def _in_order(self) -> "Rep":
        if not self.start_s <= self.top_s <= self.end_s:
            raise ValueError("start_s, top_s and end_s must follow one another")
        return self


class Measure(Part):
    """One number with its margin, or the reason why there is none.

    Angles are between joint centres, as the International Society of Biomechanics defines joint rotations (Wu et al.
    2002, 2005).
    """

    name: str
    """Name of the measure."""
    side: Side | None
    """The lifter's own side; null when the measure has none."""
    rep: Positive | None
    """Number of the repetition; null for the whole set."""
    value: float | None
    """The value in the given unit; null when it could not be measured."""
    margin: Annotated[float, Field(ge=0)] | None
    """Half-width of the 95 % interval in the same unit."""
    unit: str
    """Unit of value and margin."""
    missing_reason: str | None
    """Why there is no value; null exactly when there is one."""
    camera: CameraUsed | None = None
    """Which of two cameras it was read from; null with a single camera, and when there is no value."""
    margin_origin: MarginOrigin | None = None
    """Where the margin comes from: errors measured on sets with known truth, a similar measure, view or exercise
    (analogy), or judgement (hand); null without a margin and where it was not said."""
    missing_reason_coded: Message | None = None
    """The reason as a code; null when there is a value, and in reviews made before reasons were coded."""

    @model_validator(mode="after")
    def _value_or_reason(self) -> "Measure":
        if (self.value is None) == (self.missing_reason is None):
            raise ValueError("a measure has either a value or a missing_reason")
        if self.value is None and self.margin is not None:
            raise ValueError("a measure without a value has no margin")
        if self.value is None and self.camera is not None:
            raise ValueError("a measure without a value names no camera")
        if self.value is not None and self.missing_reason_coded is not None:
            raise ValueError("a measure with a value has no missing_reason_coded")
        return self


class Finding(Part):
    """What one check says, with its evidence."""

    check: str
    """Identifier of the check within the exercise."""
    verdict: Verdict
    """Undecided: too near the limit for the margin, or not measurable from this camera."""
    reps: Annotated[tuple[Positive, ...], FailFast()]
    """Numbers of the repetitions it speaks of."""
    measure: str
    """Name of the measure it rests on."""
    value: float | None
    """The measured value in the measure's unit."""
    limit: float | None
    """The limit it was held against, in the measure's unit."""
    at_s: Seconds | None
    """Where to look in the clip, in seconds."""
    text: str
    """The finding in plain words, with the cue."""
    basis: str
    """Source of the limit, or "common practice"."""
    reason: Reason | None = None
    """Why it is undecided; null for another verdict, and where it is not known."""
    text_coded: Message | None = None
    """The text as a code; null in reviews made before findings were coded."""
    grade: Grade | None = None
    """How sure the verdict is; null without a value, and in reviews made before there were grades."""
    probability: Share | None = None
    """Probability that the true value lies beyond limit and tolerance; null as for the grade."""
    margin: Annotated[float, Field(ge=0)] | None = None
    """Half-width of the 95 % interval of the value, same unit; null as for the grade."""
    kind: FindingKind = "level"
    """"level": the value itself; "change": how far it was worse than the mean of the first repetitions."""


class Point(Part):
    """What all repetitions of the set together say about one check."""

    check: str
    """Identifier of the check within the exercise."""
    kind: FindingKind
    """As of a finding."""
    verdict: Verdict
    """As of a finding."""
    grade: Grade | None
    """How sure the verdict is; null where too few of the repetitions have a number."""
    probability: Share | None
    """Probability that a quarter of the repetitions, at least one, are truly beyond limit and tolerance."""
    reps: Annotated[tuple[Positive, ...], FailFast()]
    """Numbers of the repetitions that were judged by a number."""
    beyond: Annotated[tuple[Positive, ...], FailFast()]
    """Those of them whose measured value lies beyond limit and tolerance."""


class SecondCamera(Part):
    """The other clip of a set that two cameras filmed at once."""

    clip: Clip
    view: View
    quality: Quality
    offset_s: Annotated[float, _round_to(4)]
    """When its first picture was shown, in seconds of the first clip; negative when it began earlier."""
    offset_margin_s: Annotated[float, Field(ge=0), _round_to(4)]
    """Half-width of the 95 % interval of the offset."""
    confidence: Share
    """How sure it is that the two clips belong together this way."""
    found_by: Literal["movement", "sound"]
    """What the offset was found by."""
    reps_from: Literal["first", "second"]
    """The camera whose picture the repetitions were read from."""


class ClipPart(Part):
    """A stretch of the clip between two cuts, measured for itself."""

    start_s: Seconds
    """Its first picture, in seconds of the clip."""
    end_s: Seconds
    """Its last picture."""
    reps: Annotated[tuple[Positive, ...], FailFast()]
    """Numbers of the repetitions in it."""
    view: View
    """Where the camera stood in it."""


class ReferenceDifference(Part):
    """One measure of the set beside the same one of the reference rep, in the measure's unit; sides are averaged."""

    measure: str
    """Name of the measure."""
    side: Side | None
    """The side that was seen in both, where only one was; null else."""
    unit: str
    """Unit of all its numbers."""
    reference: float
    """In the reference rep."""
    difference: float
    """Mean of the set's whole repetitions less the reference rep."""
    margin: Annotated[float, Field(ge=0)]
    """Half-width of the 95 % interval of the difference."""
    told: bool
    """Whether it is more than chance makes in any difference of the set (5 %)."""
    reps: Annotated[tuple[Positive, ...], FailFast()]
    """Numbers of the repetitions that have a value."""
    by_rep: Annotated[tuple[float, ...], FailFast()]
    """Each of these repetitions less the reference rep, in their order."""
    rep_margin: Annotated[float, Field(ge=0)]
    """Half-width of the 95 % interval of one of these."""

    @model_validator(mode="after")
    def _a_value_each(self) -> "ReferenceDifference":
        if len(self.reps) != len(self.by_rep):
            raise ValueError("reps and by_rep have one entry each")
        return self


class ReferenceComparison(Part):
    """The set held against the repetition that coach or lifter chose as the client's good one."""

    clip_name: str
    """File name of the clip that shows the reference rep."""
    clip_sha256: Sha256
    """SHA-256 of that file."""
    rep: Positive
    """Number of the reference rep in that set."""
    session_on: Day
    """The day of its session, as 2026-03-01."""
    yaw_difference_deg: Annotated[float, _round_to(2)] | None
    """How far this set's camera stands from where it stood then, around the lifter; null where it is not known."""
    yaw_margin_deg: Annotated[float, Field(ge=0), _round_to(2)] | None
    """Half-width of the 95 % interval of that."""
    alike: bool
    """Whether the cameras stand alike; where they do not, nothing is compared."""
    differences: Annotated[tuple[ReferenceDifference, ...], FailFast()]
    """One for each measure that both have and a check judges."""


class Document(Part):
    """One reviewed set: what was measured in a clip, repetition by repetition, and what was met."""

    schema_name: Literal["formcheck-review"] = Field(alias="schema")
    """Tells this format from any other."""
    version: Literal[1, 2]
    """Rises when a reader of the version before would go wrong. Writers write the newest."""
    clip: Clip
    pose_model: PoseModel
    exercise: Exercise
    set_info: Set = Field(alias="set")
    view: View
    quality: Quality
    reps: Annotated[tuple[Rep, ...], FailFast()]
    """The repetitions in order of time."""
    measures: Annotated[tuple[Measure, ...], FailFast()]
    """Every measure of every repetition and side, and of the set."""
    findings: Annotated[tuple[Finding, ...], FailFast()]
    """What the exercise's checks say."""
    cautions: Texts
    """Sentences about safety that belong to the exercise."""
    second_camera: SecondCamera | None = None
    """The second camera of the set; null when there was one camera. All times are in seconds of the first clip."""
    by_hand: Texts = ()
    """What a person corrected, one sentence each; empty when nothing was."""
    parts: Annotated[tuple[ClipPart, ...], FailFast()] = ()
    """The stretches between the cuts of a clip that is cut, in order of time; empty for a clip without cuts."""
    by_hand_coded: Annotated[tuple[Message, ...], FailFast()] = ()
    """The corrections as codes, in their order; empty when there are none, and in older reviews."""
    points: Annotated[tuple[Point, ...], FailFast()] = ()
    """What the set as a whole says about each check; empty in reviews made before there were grades."""
    measures_version: Annotated[int, Field(ge=1)] = 1
    """By which definitions the measures were read: numbers in degrees or ratios of two versions are not comparable."""
    reference: ReferenceComparison | None = None
    """The set beside the client's reference rep when the document was written; null where there is none."""
    sides: Sides = "both"
    """Which arms work: both at once, one while the other rests (or one after the other), or both in turn."""
