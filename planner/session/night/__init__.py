"""Night: which targets tonight, through which filter, in which order around the meridian flip.

In: what is wanted (`session.projects`), a rig, a site, a date. Out: `NightPlan`: blocks of whole subs, flips, events,
and a proven bound. Read `plan.py`, then `slot_worth.py` (what a slot counts for) and `session.optimum` (the best path).
"""
