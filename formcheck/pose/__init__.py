"""Finds the lifter's landmarks in a clip's pictures: pose model, tracking, recordings on disk."""
