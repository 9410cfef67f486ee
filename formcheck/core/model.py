"""Every noun of formcheck as a frozen dataclass.

Conventions, everywhere:

- time is in seconds from the clip's first shown frame, angles in degrees, image positions in pixels of
  the upright clip (x right, y down), model world positions in metres (x image-right, y down, z away from the camera);
- left and right are the lifter's own;
- ``top`` is the shortened end of a rep, ``bottom`` the stretched end;
- missing is NaN in an array, and ``None`` with a reason in a `Measure`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from formcheck.core.landmarks import LANDMARK_COUNT as LANDMARK_COUNT
from formcheck.core.landmarks import Array as Array
from formcheck.core.landmarks import ClipDamage as ClipDamage
from formcheck.core.landmarks import ClipInfo as ClipInfo
from formcheck.core.landmarks import LandmarkRecording as LandmarkRecording
from formcheck.core.landmarks import PoseModelInfo as PoseModelInfo
from formcheck.core.landmarks import Scene as Scene
from formcheck.core.landmarks import make_read_only
from formcheck.core.settings import Settings as Settings

Mask = NDArray[np.bool_]
Side = Literal["left", "right"]
ViewName = Literal["front", "back", "left", "right", "oblique"]
"""Where the camera stands, seen from the lifter: before, behind, at the left, at the right, or between."""
ViewHint = Literal["auto", "front", "back", "side", "left", "right", "oblique"]
Verdict = Literal["met", "not_met", "undecided"]
Grade = Literal["met", "probably_met", "close", "probably_not_met", "not_met"]
"""How sure a verdict is, by the probability P that the true value lies beyond limit and tolerance: *not met* from
97.5 % on, *probably not met* from 2/3, *probably met* up to 15 %, *met* up to 2.5 %, *close* between."""
FindingKind = Literal["level", "change"]
"""Whether a value itself is held against the limit, or how far it is worse than in the set's first repetitions."""
Reason = Literal["close", "within_tolerance", "hidden", "inexact", "wrong_view", "not_measurable"]
"""Why a finding is undecided: it is too close to call; the value is beyond the limit, but not beyond limit and
tolerance by more than its margin (in reviews from before there were grades); too little of the body was seen; the
number would be too inexact to give; the camera stood where it cannot be seen; no camera shows it."""
CameraUsed = Literal["first", "second", "both"]
MarginOrigin = Literal["measured", "analogy", "hand"]
"""Where a margin comes from: errors of sets with known truth; a similar measure, view or exercise; judgement."""
ProgressReport = Callable[[float, float | None], None]
"""Called with the seconds of a clip that are done and its length; None while that is unknown."""
SIDES: tuple[Side, Side] = ("left", "right")
Sides = Literal["both", "one", "alternating"]
"""Which arms work: both at once, one while the other rests (one after the other, too), or both in turn."""


@dataclass(frozen=True, slots=True)
class CameraView:
    """Where the camera stands."""

    name: ViewName
    yaw_deg: float | None
    """Angle of the camera around the lifter: 0 = in front, 90 = at their left, 180 = behind, -90 = at their right."""
    yaw_margin_deg: float | None
    origin: Literal["estimated", "given"]
    known: bool = True
    """False where nothing in the clip tells it, such as without a lifter or a repetition; `name` is then a stand-in."""


ProblemValue = int | float | str
MessageValue = ProblemValue | tuple[ProblemValue, ...]


@dataclass(frozen=True, slots=True)
class Message:
    """Something to tell the user, as a code with parameters (`formcheck.core.vocabulary.messages`).

    The words for it are made in `formcheck.review_text`; nothing in the analysis reads or writes a sentence.
    """

    code: str
    parameters: Mapping[str, MessageValue] = field(default_factory=dict)
    """Name → value, as the code's entry in the vocabulary lists them; rounded as it is shown."""


@dataclass(frozen=True, slots=True)
class QualityProblem:
    """Why a clip cannot be reviewed, or only in part, as a code (`formcheck.core.vocabulary.problems`).

    The words for it are made where they are shown (`formcheck.report.problem_text`).
    """

    code: str
    parameters: Mapping[str, ProblemValue] = field(default_factory=dict)
    """Name → value, as the code's entry in the vocabulary lists them."""


@dataclass(frozen=True, slots=True)
class Quality:
    """How well the clip can be measured."""

    tracked_share: float
    """Share of frames with a person found, 0..1."""
    frame_rate: float
    subject_height_px: float | None
    """Median height of the tracked body in the picture."""
    out_of_frame: Mapping[str, float]
    """Landmark name → share of tracked frames in which it lies outside the picture (only those above 2 %)."""
    low_visibility: Mapping[str, float]
    """Landmark name → share of tracked frames in which the model calls it hidden (only those above 20 %)."""
    notes: tuple[str, ...] = ()
    """Sentences for the user about what limits this clip and what to film instead, one for each of `notes_coded`."""
    landmark_jitter: float | None = None
    """How much the tracked arms shake, root mean square, in trunk lengths, 0..1 (`formcheck.signals.jitter`)."""
    problems: tuple[QualityProblem, ...] = ()
    """What makes a review of this clip impossible or incomplete, the gravest first; empty for a sound clip."""
    notes_coded: tuple[Message, ...] = ()
    """What the notes say (`formcheck.core.vocabulary.messages.NOTES`); empty in reviews made before they were coded."""


SignalKey = tuple[str, Side | None]


@dataclass(frozen=True, eq=False)
class Signals:
    """Angle curves on one uniform time grid.

    Parameters
    ----------
    t : (m,) seconds, uniform.
    series : (signal name, side or None) → (m,) values in the unit of `formcheck.core.vocabulary`; NaN in long gaps.
    sd : the same keys, as far as known → (m,) standard deviation of each value by the fit it comes from, same unit.
    body_missing : curves that need the body fitted in space are left out, since none could be fitted.
    """

    t: Array
    series: Mapping[SignalKey, Array]
    sd: Mapping[SignalKey, Array] = field(default_factory=dict)
    body_missing: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "t", make_read_only(self.t, np.shape(self.t), "t"))
        for name in ("series", "sd"):
            curves = {key: make_read_only(value, self.t.shape, str(key)) for key, value in getattr(self, name).items()}
            object.__setattr__(self, name, curves)

    @property
    def rate(self) -> float:
        """Samples a second."""
        return float((len(self.t) - 1) / (self.t[-1] - self.t[0])) if len(self.t) > 1 else float("nan")

    def get(self, name: str, side: Side | None = None) -> Array:
        """The curve, or all NaN when it was not computed."""
        return self.series.get((name, side), np.full(self.t.shape, np.nan))


# ---------------------------------------------------------------- reps, measures, findings


@dataclass(frozen=True, slots=True)
class Tempo:
    """The four phases of a rep in seconds, in the trade's order."""

    eccentric_s: float
    bottom_pause_s: float
    concentric_s: float
    top_pause_s: float

    def digits(self) -> tuple[str, str, str, str]:
        """Four figures such as 2.0, 0.5, 1.2, 0.4: eccentric, pause stretched, concentric, pause shortened."""
        first, *rest = (self.eccentric_s, self.bottom_pause_s, self.concentric_s, self.top_pause_s)
        return f"{first:.1f}", f"{rest[0]:.1f}", f"{rest[1]:.1f}", f"{rest[2]:.1f}"


@dataclass(frozen=True, slots=True)
class Rep:
    """One repetition; `top_s` is the moment of the shortened end; `by_hand`: a person set its times; `side`: the arm
    that makes it while the other rests, None for both at once."""

    number: int
    start_s: float
    top_s: float
    end_s: float
    complete: bool
    tempo: Tempo
    by_hand: bool = False
    side: Side | None = None


@dataclass(frozen=True, slots=True)
class Measure:
    """One number with its margin, or the reason why there is none."""

    name: str
    side: Side | None
    rep: int | None
    value: float | None
    margin: float | None
    """Half-width of the 95 % interval, same unit."""
    unit: str
    missing_reason: str | None = None
    """The words for `missing_reason_coded`, put in when the review is made."""
    camera: CameraUsed | None = None
    """Which camera of a pair it was read from; None with a single camera, and when there is no value."""
    margin_origin: MarginOrigin | None = None
    """None when there is no margin, and in reviews made before it was said."""
    missing_reason_coded: Message | None = None
    """Why there is no value (`formcheck.core.vocabulary.messages.MISSING`); None when there is one."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check says about some reps, with its evidence."""

    check: str
    verdict: Verdict
    reps: tuple[int, ...]
    measure: str
    value: float | None
    limit: float | None
    at_s: float | None
    text: str
    """The words for `text_coded`, put in when the review is made."""
    basis: str
    reason: Reason | None = None
    """Why it is undecided; None for another verdict, and in reviews made before it was said."""
    text_coded: Message | None = None
    """What it says (`formcheck.core.vocabulary.messages.FINDINGS`); None in reviews made before it was coded."""
    grade: Grade | None = None
    """How sure the verdict is; None without a value, and in reviews made before there were grades."""
    probability: float | None = None
    """Probability, 0..1, that the true value behind `value` lies beyond limit and tolerance; None as for `grade`."""
    margin: float | None = None
    """Half-width of the 95 % interval of `value`, same unit; None as for `grade`."""
    kind: FindingKind = "level"
    """*Change*: `value` is how far it was worse than the mean of the first repetitions, `limit` what may be."""


@dataclass(frozen=True, slots=True)
class Point:
    """What all repetitions of the set together say about one check, or that they say nothing."""

    check: str
    kind: FindingKind
    verdict: Verdict
    grade: Grade | None
    """None where too few of the repetitions have a number."""
    probability: float | None
    """Probability, 0..1, that so many repetitions as make a fault of the set, a quarter of them and at least one, are
    truly beyond limit and tolerance; None as for `grade`."""
    reps: tuple[int, ...]
    """Numbers of the repetitions that were judged by a number."""
    beyond: tuple[int, ...]
    """Those of them whose measured value lies beyond limit and tolerance, however surely."""


@dataclass(frozen=True, slots=True)
class ExerciseRef:
    """Which exercise a review was made for."""

    id: str
    name: str


FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2199, 12, 31)
"""Between these lies every day that may be given for a session or a plan; others are slips of the pen."""


@dataclass(frozen=True, slots=True)
class SetInfo:
    """What the lifter or coach said about the set."""

    load_kg: float | None = None
    target_reps: int | None = None
    target_each_side: bool = False
    """So many of the left and as many of the right."""


@dataclass(frozen=True, slots=True)
class SecondCamera:
    """The other clip of a set that two cameras filmed at once."""

    clip: ClipInfo
    view: CameraView
    quality: Quality
    offset_s: float
    """When its first picture was shown, in seconds of the first clip."""
    offset_margin_s: float
    """Half-width of the 95 % interval of the offset."""
    confidence: float
    """How sure it is that the clips belong together this way, 0..1."""
    found_by: Literal["movement", "sound"]
    reps_from: Literal["first", "second"]
    """The camera whose driver signal made the reps."""


@dataclass(frozen=True, slots=True)
class ClipPart:
    """A stretch of the clip between two cuts."""

    start_s: float
    end_s: float
    reps: tuple[int, ...]
    """Numbers of its repetitions."""
    view: CameraView
    """Where the camera stood in it."""


@dataclass(frozen=True, slots=True)
class ReferenceDifference:
    """One measure of a set beside the same one of the reference rep, in the measure's unit; sides are averaged."""

    measure: str
    side: Side | None
    """The side that both have, where they have not both sides in common, and of measures without sides None."""
    unit: str
    reference: float
    """In the reference rep."""
    difference: float
    """Mean of the set's whole reps less the reference rep."""
    margin: float
    """Half-width of the 95 % interval of the difference."""
    told: bool
    """Whether it is more than chance makes in any of the set's differences (Holm, 5 %)."""
    reps: tuple[int, ...]
    """Numbers of the reps that have a value."""
    by_rep: tuple[float, ...]
    """Each of those reps less the reference rep."""
    rep_margin: float
    """Half-width of the 95 % interval of one of these."""


@dataclass(frozen=True, slots=True)
class ReferenceComparison:
    """A set held against the rep that its coach or lifter chose as the client's good one."""

    clip_name: str
    """The clip that shows the reference rep."""
    clip_sha256: str
    rep: int
    session_on: date
    """The day of its session."""
    yaw_difference_deg: float | None
    """How far this set's camera stands from where it stood then, around the lifter; None where it is not known."""
    yaw_margin_deg: float | None
    """Half-width of the 95 % interval of that."""
    alike: bool
    """Whether the cameras stand alike; where they do not, nothing is compared."""
    differences: tuple[ReferenceDifference, ...]
    """One for each measure that both have and a check judges."""


MEASURES_VERSION = 2
"""By which definitions measures are read; raised where a number of the same name comes to mean another one."""


@dataclass(frozen=True, slots=True)
class Review:
    """The result: everything the report, the store and the page show."""

    clip: ClipInfo
    pose_model: PoseModelInfo
    exercise: ExerciseRef
    set_info: SetInfo
    view: CameraView
    quality: Quality
    reps: tuple[Rep, ...]
    measures: tuple[Measure, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    second: SecondCamera | None = None
    """The second camera, if there was one; every time of the review is in seconds of the first clip."""
    by_hand: tuple[str, ...] = ()
    """What a person corrected, one sentence for each of `by_hand_coded`; everything else follows from it."""
    parts: tuple[ClipPart, ...] = ()
    """The stretches between the cuts of a clip that is cut, each measured for itself; empty for a clip without cuts."""
    by_hand_coded: tuple[Message, ...] = ()
    """What a person corrected (`formcheck.core.vocabulary.messages.CORRECTIONS`); empty in older reviews."""
    points: tuple[Point, ...] = ()
    """What the set as a whole says about each check; empty in reviews made before there were grades."""
    measures_version: int = 1
    """By which definitions its measures were read (`MEASURES_VERSION`)."""
    reference: ReferenceComparison | None = None
    """The set beside the client's reference rep of today; never stored, since another rep may be chosen."""
    sides: Sides = "both"
    """Which arms work; *both* also where the lift is not one of the arms, and in reviews from before it was told."""

    @property
    def complete_reps(self) -> int:
        """How many of its repetitions are whole."""
        return sum(rep.complete for rep in self.reps)

    def measure(self, name: str, *, rep: int | None = None, side: Side | None = None) -> Measure | None:
        """The one measure with this name, rep and side, if there is one."""
        same = (item for item in self.measures if (item.name, item.rep, item.side) == (name, rep, side))
        return next(same, None)


@dataclass(frozen=True, eq=False)
class Analysis:
    """A review together with the curves it was read from (curves are derived, never stored)."""

    review: Review
    signals: Signals
    driver: Array
    """(m,) the driver signal on the grid of `signals`, whose ups and downs are the reps."""
    driver_name: str
