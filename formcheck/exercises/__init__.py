"""Exercises as data: format, reader, shipped files."""
