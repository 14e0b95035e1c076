"""Polar: where the polar axis points, and how to move it.

In: positions solved while only the RA axis turned, or two drifts. Out: errors in altitude and azimuth, the correction.
Read `alignment.py`.
"""
