"""The words of formcheck: every signal and every measure, with unit and meaning.

Rules live in the exercise files, the vocabulary they may use lives here. The exercise reader refuses
any other name; the report and the page take their plain words from here.

Angles follow the neutral-zero method (0 = anatomical position) and are in degrees.
"""

from formcheck.core.vocabulary.measures import MEASURES
from formcheck.core.vocabulary.signals import SIGNALS
from formcheck.core.vocabulary.terms import MeasureTerm, Plane, SignalTerm, Unit

__all__ = ["MEASURES", "SIGNALS", "MeasureTerm", "Plane", "SignalTerm", "Unit"]
