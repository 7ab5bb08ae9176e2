"""A weave in, everything that follows from it out: structure, drafts, hooks, colours, faults."""
