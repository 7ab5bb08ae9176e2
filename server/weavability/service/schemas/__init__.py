"""Schemas of the request bodies: JSON in, frozen dataclasses of the domain out."""
