"""A run: what is stale and why, units of work, the engine, and the account of it."""
