"""Posterior: what is known of a mount once a log has spoken.

In: the mount as known so far (class, typed figures, earlier measurements with their errors) and a drift report. Out:
the figures with their errors, each said to be measured, updated or left. Read `prior.py`, then `fit.py`, then
`mount.py`.
"""
