"""The first page of the report, read back from paper (PDFium) and screen: one page, 200 words, the rest behind it.

200 words are what an adult reads silently in less than a minute (238 a minute: Brysbaert 2019, J Mem Lang
109:104047, from memory).
"""

import re
from datetime import date

import numpy as np
import pypdfium2 as pdfium
import pytest

from formcheck.coaching.comment import CoachComment
from formcheck.coaching.plan import parse_plan
from formcheck.core.model import QualityProblem
from formcheck.core.vocabulary.problems import PROBLEMS
from formcheck.exercises.registry import get_exercise
from formcheck.report.figures import KeyPicture, encode_jpeg
from formcheck.report.front_page import SetContext
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.set_report import render_pdf, render_report
from formcheck.report.words import WORDS
from tests.report.test_html import read, words
from tests.report.test_pdf import pages_of
from tests.web.synthetic import synthetic_analysis, with_problem

EXERCISE = get_exercise("lateral-raise")
MOST_WORDS = 200
SAID = "Soft knees, then lead with the elbows and let the hands follow. " * 9
FULL = SetContext(
    client="Wilhelmina " * 20,
    session_on=date(2026, 11, 23),
    set_number=3,
    plan=parse_plan("11/9/7 @ 6/7/8 kg tempo 2-1-2-0 range 80°"),
    comments=(CoachComment(SAID.strip(), 3.4), CoachComment("Well held.")),
)


def pictures(width: int, height: int, reps: int = 6) -> list[KeyPicture]:
    uri = encode_jpeg(np.full((height, width, 3), (200, 30, 30), dtype=np.uint8))
    return [KeyPicture(rep, "cue", float(rep), uri, f"Rep {rep}", width / height) for rep in range(1, reps + 1)]


@pytest.mark.parametrize("size", [(160, 400), (300, 310), (400, 150)], ids=["upright", "square", "lying"])
@pytest.mark.parametrize("context", [SetContext(), FULL], ids=["bare", "full"])
def test_it_is_one_page_of_at_most_200_words_with_everything_in_its_place(
    size: tuple[int, int], context: SetContext
) -> None:
    analysis = synthetic_analysis()
    data = render_pdf(analysis, EXERCISE, pictures(*size, 8), context=context)
    first, second, *_ = pages_of(data)
    assert len(first.split()) <= MOST_WORDS
    assert "page 2 Details" in second
    assert "Details follow." in first
    cue = choose_next_cue(analysis.review, EXERCISE)
    assert cue is not None
    assert cue.cue in first
    assert "Advisory only" in first
    red = np.asarray(pdfium.PdfDocument(data)[0].render(scale=1).to_numpy())[..., :3].astype(int)
    assert (np.abs(red - (30, 30, 200)).max(axis=2) < 12).sum() > 20_000


def test_plan_and_coach_stand_on_it_and_all_of_the_coach_behind_it() -> None:
    first, *rest = pages_of(render_pdf(synthetic_analysis(), EXERCISE, context=FULL))
    for wanted in ("23 Nov 2026", "set 3", "Planned and done", "Your coach says", "0:03.4 Soft knees"):
        assert wanted in first
    # Planned for the third set: seven reps; six were done.
    assert "Reps 7 6 below" in first
    assert "Load 8 kg 8 kg as planned" in first
    assert "Lowering 2.0 s 2.0 s ± 0.1 s as planned" in first
    # The lifting of the made-up set was not measured; what a coach said last finds no room.
    for wanted in ("Lifting 2.0 s not measured unsure", "Well held."):
        assert wanted not in first
        assert wanted in " ".join(rest)


def test_the_screen_shows_the_same_with_a_number_for_each_rep() -> None:
    html = render_report(synthetic_analysis(), EXERCISE, pictures(300, 310, 6), context=FULL)
    front = html[html.index('<section class="front">') : html.index('id="details"')]
    text = words(read(front))
    assert len(text.split()) <= MOST_WORDS
    # The lower, right arm of the made-up set: 89° in its first rep, 68° in its last.
    assert "1 89°" in text
    assert "6 68°" in text
    assert "each ± 4°" in text
    assert text.index("Next cue") < text.index("Planned and done") < text.index("Your coach says")


@pytest.mark.parametrize("code", sorted(PROBLEMS))
def test_a_clip_that_cannot_be_reviewed_says_so_on_it(code: str) -> None:
    problem = QualityProblem(code, dict.fromkeys(PROBLEMS[code].parameters, 3))
    told = with_problem(synthetic_analysis(), problem)
    first, second, *_ = pages_of(render_pdf(told, EXERCISE))
    assert len(first.split()) <= MOST_WORDS
    assert "Only part" in first or "could not be reviewed" in first
    assert "page 2 Details" in second


@pytest.mark.parametrize("reps", [1, 8, 9, 30])
def test_the_strip_has_at_most_eight_with_first_last_and_the_one_beside_the_cue(reps: int) -> None:
    html = render_report(synthetic_analysis(), EXERCISE, pictures(300, 310, reps))
    strip = html[html.index('<ol class="strip">') :]
    shown = [int(rep) for rep in re.findall(r'alt="Rep (\d+)"', strip[: strip.index("</ol>")])]
    assert len(shown) == min(reps, 8)
    assert {1, reps} <= set(shown)
    # The cue of the made-up set is shown by its sixth rep.
    assert reps < 6 or 6 in shown


def test_every_call_of_a_plan_has_its_word() -> None:
    assert set(WORDS["against"]) == {"below", "as_planned", "above", "undecided"}
