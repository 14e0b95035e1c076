"""Optimum: the runs through the slots of a night that are worth most, with a proven bound.

In: a `FlowProblem` on plain floats (hours of each row in each slot, pauses, what is wanted). Out: runs and their bound.
Read `problem.py`, then `solve.py`.
"""
