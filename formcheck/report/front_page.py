"""The first page of the report: the cue with its picture, the reps in a strip, their trend, the plan, the coach."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from markupsafe import Markup

from formcheck.coaching.comment import CoachComment
from formcheck.coaching.plan import Plan
from formcheck.coaching.plan_adherence import Against, DoneSet, compare_set
from formcheck.coaching.words import TARGETS
from formcheck.core.model import Grade, Review
from formcheck.core.vocabulary.numbers import format_number
from formcheck.exercises.schema import Exercise
from formcheck.report import wording
from formcheck.report.cue_trend import CueTrend, make_cue_trend
from formcheck.report.figures import KeyPicture, Shape
from formcheck.report.next_cue import NextCue, choose_next_cue
from formcheck.report.problem_text import is_review_blocked
from formcheck.report.trend_chart import draw_trend
from formcheck.report.words import WORDS

MOST_PICTURES = 8
"""So many reps the strip shows, the first, the last and the cue's among them."""
MOST_ROWS = 4
"""So many planned numbers, those that were measured; all of them stand among the details."""
MOST_WORDS = 200
"""Of the page, so that it is read in less than a minute (238 words a minute: Brysbaert 2019, J Mem Lang 109:104047,
from memory). The coach has what the rest leaves."""
_FIXED_WORDS = 66
"""Of headings, the caution and the line at the foot."""


@dataclass(frozen=True, slots=True)
class SetContext:
    """What is known of a set beside its review."""

    client: str = ""
    session_on: date | None = None
    set_number: int | None = None
    plan: Plan | None = None
    """What was planned for that day."""
    comments: tuple[CoachComment, ...] = ()
    drawings: Mapping[int, KeyPicture] = field(default_factory=dict)
    """Place among the comments → the picture that the coach drew on."""


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One planned number beside what was done."""

    name: str
    planned: str
    done: str
    call: Against


@dataclass(frozen=True, slots=True)
class StripItem:
    """One rep of the strip with its number."""

    picture: KeyPicture
    value: str
    """The cue's measure in this rep, without its margin; empty where it was not measured."""
    grade: Grade | None


@dataclass(frozen=True, eq=False)
class FrontPage:
    """What the template of the first page shows."""

    facts: list[str]
    cue: NextCue | None
    cue_title: str
    why: str
    still: KeyPicture | None
    strip: list[StripItem]
    strip_title: str
    trend: CueTrend | None
    drawings: dict[str, Markup]
    plan: list[PlanRow]
    whole_plan: list[PlanRow]
    """Empty where all of it stands on the page."""
    coach: list[CoachComment]
    more_of_coach: bool
    """Not all of what the coach said and drew stands on the first page."""


def make_front_page(
    review: Review,
    exercise: Exercise,
    pictures: Sequence[KeyPicture],
    context: SetContext,
    *,
    reviewed_on: date | None,
    paper: bool,
) -> FrontPage:
    """What stands on the first page; of a review from which nothing may be concluded, no more than its facts."""
    cue = choose_next_cue(review, exercise)
    trend = None if is_review_blocked(review) else make_cue_trend(review, exercise, cue)
    shapes: tuple[Shape, ...] = ("paper",) if paper else ("wide", "narrow")
    of_reps = choose_pictures(pictures)
    chosen = choose_still_rep(review, exercise)
    strip, strip_title = _make_strip(_thin_out(list(of_reps.values()), chosen), trend)
    rows = list_plan_rows(compare_set(context.plan, context.set_number or 1, review))
    plan = [row for row in rows if row.done != wording.NOT_MEASURED][:MOST_ROWS]
    facts, why = _list_facts(review, context, reviewed_on), "" if cue is None else cut_sentence(cue.why)
    texts = [review.exercise.name, review.exercise.name, *facts, why, "" if cue is None else cue.cue, strip_title]
    texts += [text for row in plan for text in (row.name, row.planned, row.done, WORDS["against"][row.call])]
    texts += ["" if trend is None else f"{trend.name} {trend.target} {trend.caption}"]
    spare = MOST_WORDS - _FIXED_WORDS - 2 * len(strip) - sum(len(text.split()) for text in texts)
    coach = cut_words(context.comments, spare)
    still = of_reps.get(chosen) if chosen is not None else None
    return FrontPage(
        facts=facts,
        cue=cue,
        cue_title="" if cue is None else WORDS["front"]["cue"] if cue.kind == "change" else cue.title,
        why=why,
        still=still,
        strip=strip,
        strip_title=strip_title,
        trend=trend,
        drawings={} if trend is None else {shape: _draw_trend(trend, shape, still) for shape in shapes},
        plan=plan,
        whole_plan=rows if rows != plan else [],
        coach=coach,
        more_of_coach=coach != list(context.comments) or bool(context.drawings),
    )


def _draw_trend(trend: CueTrend, shape: Shape, still: KeyPicture | None) -> Markup:
    """The chart, drawn from numbers and the vocabulary's words only; on paper as wide as the still leaves room for."""
    drawing = draw_trend(trend, shape)
    if shape == "paper":
        beside = -5.0 if still is None else min(82.0, 96.0 * still.ratio)  # mm, as the template has it
        drawing = drawing.replace("<img ", f'<img style="width: {min(167.0 - beside, 110.0):.0f}mm" ')
    return Markup(drawing)


def choose_still_rep(review: Review, exercise: Exercise | None) -> int | None:
    """The number of the rep whose picture stands beside the cue: that of its moment, else the middle one."""
    cue = choose_next_cue(review, exercise)
    at_s = None if cue is None else cue.at_s
    of_cue = next((rep.number for rep in review.reps if at_s is not None and rep.start_s <= at_s <= rep.end_s), None)
    if of_cue is None and review.reps:
        return review.reps[len(review.reps) // 2].number
    return of_cue


def choose_pictures(pictures: Sequence[KeyPicture]) -> dict[int, KeyPicture]:
    """Rep → its picture where the cue's number was read, else that of its top."""
    order = ("top", "cue")
    found = sorted((item for item in pictures if item.moment in order), key=lambda item: order.index(item.moment))
    of_reps = {item.rep: item for item in found}
    return {rep: of_reps[rep] for rep in sorted(of_reps)}


def _thin_out(pictures: list[KeyPicture], wanted: int | None) -> list[KeyPicture]:
    """At most `MOST_PICTURES`, evenly over the set, with that of the wanted rep."""
    last = len(pictures) - 1
    if last < MOST_PICTURES:
        return pictures
    chosen = {round(index * last / (MOST_PICTURES - 1)) for index in range(MOST_PICTURES)}
    place = next((index for index, item in enumerate(pictures) if item.rep == wanted), None)
    if place is not None and place not in chosen:
        nearest = min(chosen - {0, last}, key=lambda index: abs(index - place))
        chosen = chosen - {nearest} | {place}
    return [pictures[index] for index in sorted(chosen)]


def _list_facts(review: Review, context: SetContext, reviewed_on: date | None) -> list[str]:
    day = context.session_on or reviewed_on
    parts = [
        cut_text(context.client, 60),
        wording.format_day(day) if day else "",
        f"set {context.set_number}" if context.set_number else "",
        wording.format_load(review.set_info.load_kg),
        "" if is_review_blocked(review) else wording.format_rep_count(review.reps),
    ]
    return [part for part in parts if part]


def _make_strip(pictures: Sequence[KeyPicture], trend: CueTrend | None) -> tuple[list[StripItem], str]:
    if trend is None:
        return [StripItem(picture, "", None) for picture in pictures], WORDS["front"]["strip"]
    items = []
    for picture in pictures:
        found = trend.find(picture.rep)
        value = "" if found is None else wording.split_margin(found.text)[0]
        items.append(StripItem(picture, value, None if found is None else found.grade))
    margins = {wording.split_margin(item.text)[1] for item in trend.values}
    each = WORDS["front"]["each"].format(margin=margins.pop()) if len(margins) == 1 else ""
    return items, f"{trend.name}{each}"


def list_plan_rows(done: DoneSet) -> list[PlanRow]:
    """The planned numbers of a set beside what was done; none without a plan."""
    planned, words = done.planned, WORDS["front"]
    if planned is None:
        return []
    reps = done.reps + (f" + {done.partial_reps} partial" if done.partial_reps else "")
    rows = [
        PlanRow(words["reps"], planned.reps, reps, "undecided" if done.reps_over is None else _judge(done.reps_over))
    ]
    if planned.load_kg is not None:
        load = wording.format_load(done.load_kg) or wording.NOT_MEASURED
        call: Against = "undecided" if done.load_over_kg is None else _judge(done.load_over_kg)
        rows.append(PlanRow(words["load"], wording.format_load(planned.load_kg), load, call))
    for item in done.targets:
        name = wording.capitalise(TARGETS[item.name])
        shown = wording.format_with_margin(item.done, item.margin, item.unit)
        rows.append(PlanRow(name, format_number(item.planned, item.unit), shown, item.call))
    return rows


def _judge(over: float) -> Against:
    return "as_planned" if over == 0 else "above" if over > 0 else "below"


def cut_sentence(text: str) -> str:
    """The first sentence."""
    return text.partition(". ")[0].rstrip(".") + "." if text else ""


def cut_text(text: str, most: int) -> str:
    """No more than so many characters."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def cut_words(comments: Sequence[CoachComment], most: int) -> list[CoachComment]:
    """The first comments, so many words of them."""
    kept: list[CoachComment] = []
    for item in comments:
        words = item.text.split()
        if most <= 0:
            break
        text = item.text if len(words) <= most else " ".join(words[:most]) + " …"
        kept.append(replace(item, text=text))
        most -= len(words) + 1
    return kept
