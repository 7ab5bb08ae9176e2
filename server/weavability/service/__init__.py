"""The HTTP service: ``create_app`` is the WSGI factory."""

from weavability.service.app import create_app
from weavability.service.settings import Settings

__all__ = ["Settings", "create_app"]
