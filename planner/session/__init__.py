"""session."""
