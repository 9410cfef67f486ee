"""Joins analysis and storage: a clip reviewed and stored, a stored review corrected, exported, deleted."""
