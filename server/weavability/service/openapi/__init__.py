"""The OpenAPI 3.1 description, made from operations, schemas and report dataclasses."""
