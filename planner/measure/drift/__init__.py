"""Drift: what an unguided star says about the mount.

In: a log (time, RA, Dec), the mount as known so far, the site. Out: rates, periodic terms, wander and jitter with
errors, the causes, the mount that they make. Read `report.py`, then `fit/periodic_terms.py` (the
search for periods under a random walk, in the way of Lomb and Scargle) and `causes.py`.
"""
