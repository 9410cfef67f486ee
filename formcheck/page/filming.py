"""Page: how to film an exercise."""

from formcheck.page import frame

frame.heading("How to film a set")
