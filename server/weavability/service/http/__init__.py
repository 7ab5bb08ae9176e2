"""HTTP: bodies, responses, problems, streams, links."""
