"""The effective PSF: what a pixel records against its distance from the star.

In: pixels around stars as plain floats. Out: the profile with its error, and each star on it. Read `effective_psf`.
"""
