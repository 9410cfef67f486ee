"""A review beside the truth: every number, the repetitions, the planted faults and the alarms without reason."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from baselines import KINDS, Baseline, Kind
from cases import Case
from formcheck.analysis import analyse
from formcheck.core.model import Rep, Review, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Check, Exercise
from true_values import Truth

BANDS = ("front 0-10", "front 10-30", "front 30-45", "side", "behind")
"""Where the camera stands: degrees around the lifter from straight in front, at the side, or behind."""
WITHOUT_EXERCISE = ("lateral-raise", "overhead-lateral-raise", "bent-over-lateral-raise", "guided-bar-press")
"""What a clip without the exercise is reviewed as."""
CHECKS_OF: Mapping[str, tuple[str, ...]] = {
    "range_lost": ("range-kept",),
    "torso_rises": ("torso-still",),
    "swing": ("no-swing", "no-lean"),
    "one_side_lower": ("even-sides",),
    "stops_at_shoulder_height": ("overhead",),
    "rushed_lowering": ("lowering",),
}
"""Which check has to find a planted fault: the first of these an exercise has."""


@dataclass(frozen=True)
class Row:
    """One true value, what formcheck gave for it, and what the plain readings gave."""

    clip: str
    exercise: str
    measure: str
    band: str
    unit: str
    truth: float
    value: float | None
    margin: float | None
    plain_errors: Mapping[Kind, float | None]
    """Errors of the plain readings (`baselines`); None where they give nothing."""
    frame_rate: float
    conditions: frozenset[str]

    @property
    def error(self) -> float | None:
        """Given minus true; None when nothing was given."""
        return None if self.value is None else self.value - self.truth

    @property
    def inside(self) -> bool | None:
        """The truth lies inside the margin."""
        return None if self.error is None or self.margin is None else abs(self.error) <= self.margin


@dataclass(frozen=True)
class Planted:
    """A planted fault and what became of it, by repetition."""

    clip: str
    kind: str
    band: str
    visible: bool
    """The camera's view can decide the check at all."""
    verdicts: tuple[str, ...]
    """``not_met`` (found), ``undecided``, ``met`` (missed) or ``no rep`` of each repetition it was planted in."""

    @property
    def found(self) -> bool:
        """At least half of its repetitions are named."""
        return 2 * self.verdicts.count("not_met") >= len(self.verdicts)


@dataclass(frozen=True)
class Alarm:
    """A finding that a limit was not kept, in a repetition that truly keeps it or does not exist."""

    clip: str
    clean: bool
    """Nothing was planted in this set."""
    check: str
    rep: int
    value: float | None
    truth: float | None


@dataclass(frozen=True)
class Outcome:
    """Everything the benchmark knows of one set."""

    clip: str
    exercise: str
    band: str
    view: str
    yaw_error: float | None
    planned: int
    found: int
    partial: tuple[int, int]
    """Partial repetitions planned, and those of them told apart."""
    wrongly_partial: int
    clean: bool
    no_exercise: str | None
    conditions: frozenset[str]
    rows: tuple[Row, ...] = ()
    planted: tuple[Planted, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    false_reps: Mapping[str, int] = field(default_factory=dict)
    """Exercise a clip without exercise was reviewed as → repetitions found in it."""

    @property
    def counted(self) -> bool:
        """The number of repetitions is right, and each is rightly whole or partial."""
        return self.found == self.planned and self.partial[0] == self.partial[1] and not self.wrongly_partial


def band_of(yaw: float) -> str:
    """The band of `BANDS` a camera's angle around the lifter belongs to."""
    off = abs((yaw + 180.0) % 360.0 - 180.0)
    limits = ((10.0, BANDS[0]), (30.0, BANDS[1]), (60.0, BANDS[2]), (120.0, BANDS[3]))
    return next((name for limit, name in limits if off <= limit), BANDS[4])


def outcome_of(case: Case, settings: Settings) -> Outcome:
    """Review one set and hold everything in it against the truth."""
    if case.no_exercise is not None:
        return _without_exercise(case, settings)
    exercise = get_exercise(case.exercise)
    review = analyse(case.recording, exercise, settings=settings).review
    truth = Truth(case)
    partners = _partners(review.reps, case)
    yaw = case.yaw if case.yaw is not None else review.view.yaw_deg or 0.0
    seen = {number: rep for rep in review.reps if (number := partners[rep.number]) is not None}
    partial = [number for number, whole in enumerate(case.complete, 1) if not whole]
    off = None if case.yaw is None or review.view.yaw_deg is None else review.view.yaw_deg - case.yaw
    clean = not case.faults
    return Outcome(
        clip=case.name,
        exercise=case.exercise,
        band=band_of(yaw),
        view=review.view.name,
        yaw_error=None if off is None else (off + 180.0) % 360.0 - 180.0,
        planned=len(case.planned),
        found=len(review.reps),
        partial=(len(partial), sum(number in seen and not seen[number].complete for number in partial)),
        wrongly_partial=sum(not rep.complete for number, rep in seen.items() if number not in partial),
        clean=clean,
        no_exercise=None,
        conditions=case.conditions,
        rows=tuple(_rows(case, review, truth, band_of(yaw))),
        planted=tuple(_planted(case, exercise, review, seen, band_of(yaw))),
        alarms=tuple(_alarms(case, exercise, review, truth, clean=clean)),
    )


def _without_exercise(case: Case, settings: Settings) -> Outcome:
    found = {name: analyse(case.recording, get_exercise(name), settings=settings).review for name in WITHOUT_EXERCISE}
    view = next(iter(found.values())).view
    return Outcome(
        clip=case.name,
        exercise="none",
        band=band_of(case.yaw or 0.0),
        view=view.name,
        yaw_error=None,
        planned=0,
        found=0,
        partial=(0, 0),
        wrongly_partial=0,
        clean=True,
        no_exercise=case.no_exercise,
        conditions=case.conditions,
        false_reps={name: len(review.reps) for name, review in found.items()},
    )


def _partners(reps: Sequence[Rep], case: Case) -> dict[int, int | None]:
    """Found repetition → planned one (from 1) in which its top lies, or None."""
    out: dict[int, int | None] = {}
    for rep in reps:
        inside = (number for number, (start, end) in enumerate(case.planned, 1) if start <= rep.top_s <= end)
        out[rep.number] = next(inside, None)
    return out


def _rows(case: Case, review: Review, truth: Truth, band: str) -> Iterator[Row]:
    plain = {kind: Baseline(case.recording, kind) for kind in KINDS}
    reps = {rep.number: rep for rep in review.reps}
    for measure in review.measures:
        rep = reps[measure.rep or 0]
        partner = truth.partner(rep)
        value = None if partner is None else truth.value(measure.name, measure.side, partner)
        if value is None:
            continue
        readings: dict[Kind, float | None] = {}
        for kind in KINDS:
            reading = plain[kind].value(measure.name, measure.side, rep)
            readings[kind] = None if reading is None else reading - value
        yield Row(
            clip=case.name,
            exercise=case.exercise,
            measure=measure.name,
            band=band,
            unit=measure.unit,
            truth=value,
            value=measure.value,
            margin=measure.margin,
            plain_errors=readings,
            frame_rate=case.recording.clip.frame_rate,
            conditions=case.conditions,
        )


def _planted(case: Case, exercise: Exercise, review: Review, seen: Mapping[int, Rep], band: str) -> Iterator[Planted]:
    for kind, numbers in case.faults:
        check = next((one for one in exercise.checks if one.id in CHECKS_OF.get(kind, ())), None)
        if check is None:
            continue
        verdicts = {
            rep: finding.verdict for finding in review.findings if finding.check == check.id for rep in finding.reps
        }
        yield Planted(
            clip=case.name,
            kind=kind,
            band=band,
            visible=review.view.name in exercise.views_for(check),
            verdicts=tuple(
                verdicts.get(seen[number].number, "undecided") if number in seen else "no rep" for number in numbers
            ),
        )


def _alarms(case: Case, exercise: Exercise, review: Review, truth: Truth, *, clean: bool) -> Iterator[Alarm]:
    checks = {check.id: check for check in exercise.checks}
    reps = {rep.number: rep for rep in review.reps}
    for finding in review.findings:
        if finding.verdict != "not_met":
            continue
        check = checks[finding.check]
        for number in finding.reps:
            partner = truth.partner(reps[number])
            sides = {
                measure.side: measure
                for measure in review.measures
                if (measure.name, measure.rep) == (check.measure, number)
            }
            true = [] if partner is None else [truth.value(check.measure, side, partner) for side in sides]
            known = [value for value in true if value is not None]
            if not any(beyond(check, value) for value in known):
                values = [measure.value for measure in sides.values() if measure.value is not None]
                yield Alarm(case.name, clean, check.id, number, _worst(values, check), _worst(known, check))


def beyond(check: Check, value: float) -> bool:
    """A value breaks a check, its tolerance included."""
    size = abs(value) if check.absolute else value
    if check.at_least is not None:
        return size < check.limit - check.tolerance
    return size > check.limit + check.tolerance


def _worst(values: Sequence[float], check: Check) -> float | None:
    if not values:
        return None
    return min(values) if check.at_least is not None else max(values, key=abs if check.absolute else float)
