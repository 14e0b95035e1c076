"""pier."""
