"""Stars: what one frame says about the stars on it, in pixels of the camera.

In: a plane of pixels with its header. Out: `StarField`: width, elongation, direction, where in the field, the trail.
Read `star_field.py`, then `field_split.py` (what is common, radial, tilted, turning).
"""
