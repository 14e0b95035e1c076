"""What was measured, as charts: test frames, drift logs, pointing and the polar axis."""
