"""Landmarks to angle curves, and the camera they are seen by."""
