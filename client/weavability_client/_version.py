"""The version of client and service. Generated: run ``openapi/regenerate``."""

__version__ = "0.1.0"
