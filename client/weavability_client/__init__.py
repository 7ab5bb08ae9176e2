"""Client of the Weavability service."""
