"""exposure."""
