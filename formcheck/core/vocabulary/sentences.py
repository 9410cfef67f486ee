"""Sentences from templates: those of `str.format`, with formats of our own such as ``{at_s:moment}``."""

import string
from collections.abc import Callable, Mapping, Sequence

from formcheck.core.vocabulary.numbers import format_moment

Formats = Mapping[str, Callable[[object], str]]


def write_sentence(template: str, parameters: Mapping[str, object], formats: Formats) -> str:
    """The template with its parameters (KeyError, TypeError or ValueError for those that do not fit it).

    Parameters
    ----------
    formats : how a parameter is written, by the name behind its colon; other names are Python's own.
    """
    return _Writer(formats).vformat(template, (), parameters)


class _Writer(string.Formatter):
    def __init__(self, formats: Formats):
        self.formats = formats

    def format_field(self, value: object, format_spec: str) -> str:
        write = self.formats.get(format_spec)
        return write(value) if write is not None else str(super().format_field(value, format_spec))


def list_texts(value: object) -> list[str]:
    """The texts of a parameter that lists several; one is a list too."""
    return [str(item) for item in value] if isinstance(value, tuple) else [str(value)]


def join_words(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def write_moment(seconds: object) -> str:
    """A parameter in seconds as a moment of the clip (`moment`)."""
    return format_moment(float(seconds))  # type: ignore[arg-type]  # a list is refused with a TypeError


def write_points(names: object) -> str:
    """A parameter that lists body points, such as ``left wrist, nose``."""
    return ", ".join(" ".join(name.split("_")) for name in list_texts(names))
