"""Callers, their tokens and their limits."""
