"""The pages of the page map, one short file each."""
