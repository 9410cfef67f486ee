"""Trends, permutation tests, onset of change, detectable change, over reps, sets and sessions."""
