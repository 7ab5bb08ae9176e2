"""A request's looms, its canonical form, and the answer under its own name."""
