"""Light and noise of one pixel: what of a filter is recorded, how many electrons come, what hides them, what overflows.

In: camera, telescope, filter and air. Out: electrons per second, signal-to-noise, magnitudes. Read `photons`,
then `noise`.
"""
