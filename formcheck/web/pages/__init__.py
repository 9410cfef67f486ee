"""The pages of the page map, one short file each."""

from pathlib import Path

PAGES = Path(__file__).parent
