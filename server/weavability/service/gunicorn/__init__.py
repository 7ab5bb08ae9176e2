"""The service under gunicorn: command, worker, slow clients."""
