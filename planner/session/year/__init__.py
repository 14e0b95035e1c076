"""Year: in which weeks is a target best, and which objects of the catalogue fit this rig.

In: targets or the catalogue, a rig, a site, dates. Out: useful hours by night, the best night, nights still needed.
Read `season.py`, then `objects.py`.
"""
