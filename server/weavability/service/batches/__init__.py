"""Many items in one request: NDJSON and CSV."""
