"""What a coach's answers to reviews are shown as, on every screen alike."""

from collections.abc import Sequence

from formcheck.coaching.rating import OF_REP, Agreement, Rating, find_rating, sum_agreement
from formcheck.core.model import Review
from formcheck.report.problem_text import get_exercise_name
from formcheck.report.wording import count
from formcheck.report.words import WORDS


def describe_rating(rating: Rating, review: Review, titles: dict[str, str] | None = None) -> str:
    """One answer in a line, without its reason, such as ``Rep 3 (a whole rep): you disagree``.

    titles : check → its title; the check's own name where it has none.
    """
    words = WORDS["ratings"]
    what = (titles or {}).get(rating.check, rating.check)
    if rating.check == OF_REP:
        numbers = [rep.number for rep in review.reps if find_rating([rating], review, rep=rep.number) is not None]
        what = words["rep"].format(rep=numbers[0]) if numbers else words["rep-gone"]
    return words["line"].format(
        what=what, verdict=words[rating.verdict], answer=words["agree" if rating.agrees else "disagree"]
    )


def format_share(agreement: Agreement) -> str:
    """The share that agrees with its interval, such as ``80 % (55 to 93 %)``."""
    low, high = agreement.compute_interval()
    return f"{agreement.share:.0%} ({100 * low:.0f} to {high:.0%})".replace("%", " %")


def list_agreement_rows(found: Sequence[Agreement]) -> list[tuple[str, str, int, int, str]]:
    """Exercise, check, agree, disagree, share: a row a check, and one for all where there are several."""
    rows = [
        (get_exercise_name(item.exercise_id), item.check, item.agree, item.disagree, format_share(item))
        for item in found
    ]
    everything = sum_agreement(found)
    if everything is not None and len(found) > 1:
        rows.append((WORDS["ratings"]["all"], "", everything.agree, everything.disagree, format_share(everything)))
    return rows


def describe_agreement_in_set(ratings: Sequence[Rating]) -> str:
    """All answers to one set in one line, without a share: they are few."""
    agree, answers = sum(item.agrees for item in ratings), count(len(ratings), "answer")
    return WORDS["ratings"]["of-set"].format(agree=agree, answers=answers)


def describe_agreement(found: Sequence[Agreement]) -> str:
    """All answers in one line; empty where there are none."""
    everything = sum_agreement(found)
    if everything is None:
        return ""
    words, disputed = WORDS["ratings"], found[0]
    answers = count(everything.count, "answer")
    line = words["sum"].format(agree=everything.agree, answers=answers, share=format_share(everything))
    if disputed.disagree < 2:
        return line
    name, check = get_exercise_name(disputed.exercise_id), disputed.check
    return f"{line} {words['disputed'].format(exercise=name, check=check, disagree=disputed.disagree)}"
