"""Weavability: judges a woven construction against a loom's limits, and says how to set it up."""

__version__ = "0.1.0"
