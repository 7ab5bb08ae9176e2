"""Drawings as SVG: point paper with draft and lift plan, and the face of the cloth."""
