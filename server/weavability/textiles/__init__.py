"""What the cloth is: yarns, weaves, drafting, geometry, construction. Knows no loom and no HTTP."""
