"""tracking."""
