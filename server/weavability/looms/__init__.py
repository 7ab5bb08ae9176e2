"""What the machine can do: its limits, its reeds, weft insertion, output, beams, change-over."""
