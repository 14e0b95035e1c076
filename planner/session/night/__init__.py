"""Night: which targets tonight, through which filter, in which order around the meridian flip.

In: what is wanted (`session.projects`), a rig, a site, a date. Out: `NightPlan`: blocks of whole subs, flips, events,
and a bound. Read `plan.py`, `draft.py` (what it starts from), `session.optimum` (the best path), `answer.py`.
"""
