"""A picture from the camera, in any of its files, as electrons' counts with what its header tells.

In: a FITS file, packed or not. Out: `measure.stars.plane.Frame`, or a solved position. Read `load`, then `header`.
"""
