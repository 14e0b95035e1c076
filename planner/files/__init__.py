"""The only room that touches files: equipment, horizons, targets, star catalogue and the packaged data."""
