"""Drawings as SVG: point paper with draft and lift plan, face of the cloth, weft insertion."""
