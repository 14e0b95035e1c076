"""Worth: what an hour under some sky counts for, beside an hour in the moonless zenith.

In: a rig, a site, a filter, places on the sky and the Moon. Out: useful hours. Read `usefulness.py`.
"""
