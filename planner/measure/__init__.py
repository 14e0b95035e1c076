"""Measure: what the rig really does. One sub-room a kind of data: stars, frame, drift, pointing, polar."""
