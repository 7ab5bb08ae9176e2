"""Where cloth meets loom: one file a subject, one function a check."""
