"""Advice: for one target on one night, guide or not, how long is one sub-exposure, how deep do the hours go.

In: a target, a rig, a site, a date, a filter, a goal. Out: `Advice`, with the verdict, both ways, the depth, the total
exposure and how sure all of it is. Read `answer.py`, then `text.py` for what a person reads of it.
"""
