"""visibility."""
