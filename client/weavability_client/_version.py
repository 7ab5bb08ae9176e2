"""The client's version, as it stands in ``pyproject.toml`` too."""

from __future__ import annotations

from typing import Final

__version__: Final = "0.1.0"
