"""The OpenAPI 3.1 description, made from operations, schemas and report dataclasses."""

from weavability.service.openapi.document import document

__all__ = ["document"]
