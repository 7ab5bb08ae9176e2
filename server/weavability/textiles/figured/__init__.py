"""Figured designs: a picture with a weave for each colour, and what the harness lifts for it."""
