"""Pointing: what solved positions say about the mount's axes and tube.

In: where the mount said it pointed and where it did. Out: seven constant angles with errors, outliers, the drift
implied. Read `fit.py`.
"""
