"""Words of pain in what a lifter writes freely, and the joints such words name.

A remark that speaks of pain counts as pain, because nobody who writes "sharp twinge" also looks for a box to tick.
"No pain", "painless", "didn't hurt" do not count. Where the words leave it open ("not much pain", "no pain until the
last rep"), they count: asking once too often costs less than one heavier set on a sore joint. The word lists
stand in ``pain_words.toml``.
"""

import difflib
import re
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from formcheck.core.vocabulary.joints import JOINTS, Joint


def _read_lists() -> dict[str, frozenset[str]]:
    text = Path(__file__).with_name("pain_words.toml").read_text(encoding="utf-8")
    return {name: frozenset(words.split()) for name, words in tomllib.loads(text).items()}


_WORDS = _read_lists()
_OF_PAIN = _WORDS["nouns"] | _WORDS["others"]
_ONLY_AT_FIRST = re.compile(
    r"\b(until|till|til|except|excepting|apart from|aside from|besides|other than|unless|at first|initially|"
    r"at the start|at the beginning|in the beginning|to begin with|before(?!\s*(?:,|and\b|or\b|during\b))|"
    r"bis auf|außer|sauf|hasta|excepto)\b"
)
_A_LITTLE = re.compile(r"^(?:too |that |as |very |so |quite |really )?(?:much|badly|bad|a lot)\b")
_ANSWERED_NO = re.compile(
    r"\bpain(?:\s*(?:level|score|scale))?\s*(?:[:?=]\s*(?:no|nope|nil)|[-:?=]?\s*(?:none|zero|0(?:\s*/\s*10)?))"
    r"\s*(?=$|[.,;!)\n])"
)
_BLADES = re.compile(r"\bpinch\w*\s+(?:\w+\s+){0,3}(?:shoulder blades|blades|grip)\b")
_WORD = re.compile(r"\d+(?:[.,]\d+)*|[^\W_]+|[.,;!?\n()]")
_STOPS = frozenset(".;!?\n")
_MISSPELT = ("painful", "twinge", "discomfort")
_PHRASES = re.compile(
    r"\bfait mal\b|\bfa male\b|\bblurr(?:ed|y) vision\b|\blight headed\b|\bacting up\b|\bflared up\b|"
    r"\bpins and needles\b|\bpulled (?:a muscle|something)\b|\bchest (?:was |is |felt |got )?(?:very )?tight\b"
)


def find_pain_words(remark: str | None) -> tuple[str, ...]:
    """The words in a remark that speak of pain or of a sign to stop, in their order; none where it denies them."""
    if not remark:
        return ()
    text = re.sub(r"[’`´']", "", remark.lower()).replace("-", " ")
    text = re.sub(r"\bpain free\b|\bfree (?:of|from) (?:any )?pain\b", "painfree", text)
    text = _BLADES.sub(" ", _ANSWERED_NO.sub(" ", text))
    words = _WORD.findall(text)
    found = [word for index, word in enumerate(words) if _is_pain(words, index)]
    return tuple(dict.fromkeys([*found, *(match.group() for match in _PHRASES.finditer(text))]))


def find_joints_named(text: str | None) -> frozenset[Joint]:
    """The joints a text names, also when they are misspelt."""
    if not text:
        return frozenset()
    return frozenset().union(*(_find_joints(word) for word in re.findall(r"[^\W\d_]+", text.lower())))


@lru_cache(maxsize=4096)
def _find_joints(word: str) -> frozenset[Joint]:
    forms = {word, word.removesuffix("s")}
    return frozenset(
        joint
        for joint, names in JOINTS.items()
        if any(difflib.get_close_matches(form, names, n=1, cutoff=0.87) for form in forms)
    )


def _is_pain(words: Sequence[str], index: int) -> bool:
    word = words[index]
    if word in _WORDS["without_pain"]:
        # "Not painless", "far from painless" and "pain-free until rep 9" speak of pain after all.
        nearly = bool(_WORDS["nearly"] & set(words[max(index - 2, 0) : index]))
        return nearly or _is_denied(words, index) or _came_later(words, index)
    if word in _WORDS["near_a_joint"]:
        sentence = _get_sentence(words, index)
        if not find_joints_named(" ".join(sentence)) and "chest" not in sentence:
            return False
    elif not (word in _OF_PAIN or _is_misspelt(word)):
        return False
    return not _is_denied(words, index) or _came_later(words, index)


def _is_denied(words: Sequence[str], index: int) -> bool:
    """Whether a "no" before the word denies it, with nothing but joints and small words between."""
    noun = words[index] in _WORDS["nouns"]
    joined = False
    for back in range(index - 1, -1, -1):
        word = words[back]
        if word in _WORDS["denials"]:
            # "Not without pain" and "can't lift it without pain" are pain.
            lacking = word in _WORDS["lacking"] and _WORDS["denials"] & set(_list_before(words, back))
            return not lacking
        joined = joined or word in ("or", "nor")
        in_list = noun and (word in _WORDS["nouns"] or (word == "," and joined) or _is_joined(words, back))
        if not (in_list or word in _WORDS["between"] or find_joints_named(word)):
            return False
    return False


def _is_joined(words: Sequence[str], index: int) -> bool:
    """Whether an "and" joins two words for pain or two joints: "aches and pains", "knee and hip pain"."""
    around = words[index - 1], words[index + 1]
    both = all(word in _WORDS["nouns"] for word in around) or all(find_joints_named(word) for word in around)
    return words[index] == "and" and both


def _came_later(words: Sequence[str], index: int) -> bool:
    """Whether what is denied came after all, or a little: "no pain until the last rep", "didn't hurt much"."""
    rest = " ".join(_list_rest(words, index))
    return _ONLY_AT_FIRST.search(rest) is not None or _A_LITTLE.search(rest) is not None


def _list_before(words: Sequence[str], index: int) -> Sequence[str]:
    begin = next((at + 1 for at in range(index - 1, -1, -1) if words[at] in _STOPS or words[at] == ","), 0)
    return words[begin:index]


def _list_rest(words: Sequence[str], index: int) -> Sequence[str]:
    end = next((at for at in range(index, len(words)) if words[at] in _STOPS), len(words))
    return words[index + 1 : end]


def _get_sentence(words: Sequence[str], index: int) -> Sequence[str]:
    begin = next((at + 1 for at in range(index, -1, -1) if words[at] in _STOPS), 0)
    return [*words[begin:index], *_list_rest(words, index)]


def _is_misspelt(word: str) -> bool:
    single = re.sub(r"(.)\1+", r"\1", word)
    return single in _OF_PAIN or (len(word) >= 5 and bool(difflib.get_close_matches(word, _MISSPELT, n=1, cutoff=0.85)))
