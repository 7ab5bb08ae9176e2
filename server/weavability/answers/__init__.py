"""What each question is answered with: one module an endpoint."""
