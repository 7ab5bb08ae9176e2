"""HTTP: bodies, responses, problems, streams."""
