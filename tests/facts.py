"""What a sentence must carry, whatever its wording: numbers, names, codes."""

import re


def says(text: str, *facts: str) -> bool:
    """Whether one sentence of a text carries all these facts, each as whole words, in this order.

    Sentences end at a full stop, an exclamation or question mark before white space, and at a line's end. Hard spaces
    count as spaces; capitals do not matter. Without facts it is an error: such a question is always answered yes.
    """
    if not facts:
        raise ValueError("no fact to look for")
    wanted = ".*?".join(rf"(?<!\w)(?<!\d[.,]){re.escape(fact)}(?!\w)(?![.,]\d)" for fact in facts)
    plain = text.replace("\u00a0", " ").replace("\u202f", " ")
    return any(re.search(wanted, sentence, re.I) for sentence in re.split(r"(?<=[.!?])\s+|\n", plain))
