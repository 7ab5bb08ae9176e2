"""A drawing of the service."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing in SVG; a notebook shows it.

    Attributes:
        svg: The SVG document.
    """

    svg: str

    def save(self, path: str | Path) -> Path:
        """Write the drawing to a file and return its path.

        Raises:
            OSError: The file cannot be written.
        """
        target = Path(path)
        target.write_text(self.svg, encoding="utf-8")
        return target

    def __str__(self) -> str:
        """Return the SVG document."""
        return self.svg

    def __repr__(self) -> str:
        return f"Drawing({len(self.svg)} characters of SVG)"

    def _repr_svg_(self) -> str:
        return self.svg
