"""An exercise file as a user would write one: the shipped lateral raise under another id, with another height."""

from pathlib import Path

from formcheck.exercises import registry

ID, NAME, HEIGHT_DEG = "shelf-raise", "Raise to the shelf", 120.0
"""The made-up lifter's arms stop at shoulder height, so this height is not met."""
_SHIPPED = (registry.FOLDER / "lateral-raise.toml").read_text(encoding="utf-8")


def own_text(*, exercise_id: str = ID, height: str = f"{HEIGHT_DEG}") -> str:
    """The file's text."""
    text = _SHIPPED
    for old, new in (
        ('id = "lateral-raise"', f'id = "{exercise_id}"'),
        ('name = "Lateral raise to shoulder height"', f'name = "{NAME}"'),
        ("at_least = 82.0", f"at_least = {height}"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    return text


def write_own(folder: Path, *, exercise_id: str = ID, height: str = f"{HEIGHT_DEG}") -> Path:
    """The file, named after its id."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{exercise_id}.toml"
    path.write_text(own_text(exercise_id=exercise_id, height=height), encoding="utf-8")
    return path
