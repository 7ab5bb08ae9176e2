"""The README and its chapters, which tests read and run."""

from __future__ import annotations

from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[1]
README: Final = ROOT / "README.md"
FOLDER: Final = ROOT / "server" / "docs"


def chapter(name: str) -> str:
    """Return the text of a chapter."""
    return (FOLDER / f"{name}.md").read_text("utf-8")


def documents() -> dict[str, str]:
    """Return the text of the README and of every chapter, by name."""
    return {path.name: path.read_text("utf-8") for path in (README, *sorted(FOLDER.glob("*.md")))}
