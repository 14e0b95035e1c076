"""Match: which camera on which telescope, with which reducer and binning.

In: the equipment, a rig for its mount and filters, a site, a target or none. Out: `Combinations`, ranked. Read
`combinations.py`, then `ranking.py`.
"""
