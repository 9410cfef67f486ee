"""``python -m formcheck``."""

from formcheck.cli import main

main()
