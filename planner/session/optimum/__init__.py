"""Optimum: the best sequence of states through the slots of a night, with a proven bound.

In: a `Problem` on plain floats (worth of each state in each slot, pauses, needs). Out: a sequence and its bound. Read
`problem.py`, then `solve.py`.
"""
