"""Match: which camera on which telescope, with which reducer and binning.

In: the equipment, a rig for its mount and filters, a site, a target or none. Out: `SetUp`, ranked by the time that the
mount needs. Read `combinations.py` (the question), then `set_ups.py` (each judged as the advice does, the order).
"""
