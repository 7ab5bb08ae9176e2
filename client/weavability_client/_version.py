"""The version. Generated: run ``openapi/regenerate``."""

__version__ = "0.1.0"
