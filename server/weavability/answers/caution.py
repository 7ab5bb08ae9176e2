"""The caution: what a computed result is not. Anything a machine may be set up from carries it."""

from __future__ import annotations

from typing import Final

CAUTION: Final = (
    "A computed result is not a safety approval. Weaving machines crush, cut and deafen: follow "
    "the machine maker's instructions and local rules (ISO 11111-1 and -6 cover the machines); "
    "isolate and lock out before reaching into shed, rapier path or reed; weaving rooms commonly "
    "exceed 85 dB(A), so protect hearing (noise is measured to ISO 9902-6). Qualified staff decide."
)

SHORT_CAUTION: Final = (
    "A computed result is not a safety approval: isolate and lock out before reaching into a loom; "
    "qualified staff decide."
)
"""For a drawing, or a row of a table, that has no room for more."""
