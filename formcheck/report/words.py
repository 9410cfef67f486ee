"""The words for codes that are no part of a review, from ``words.toml`` beside this module."""

import tomllib
from collections.abc import Mapping
from pathlib import Path

WORDS: Mapping[str, Mapping[str, str]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
"""Name of a table → code → words."""


def describe_reason(code: str) -> str:
    """What speaks for an exercise, in a few words (codes of `formcheck.recognition.template`)."""
    return WORDS["reasons"][code]
