"""formcheck: measures a recorded strength-training set, rep by rep, and says what was met."""

__version__ = "0.1.0"
