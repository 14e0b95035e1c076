"""The star's motion within one exposure, as moments in closed forms: drive, drift and a random walk together.

In: a smooth track and a drive. Out: `ExposureMotion` and its float kernels. Read `exposure_window`, then
`window_moments`.
"""
