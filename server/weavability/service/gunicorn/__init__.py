"""The service under gunicorn: command and worker."""
