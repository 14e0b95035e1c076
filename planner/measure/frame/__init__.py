"""Frame: what test frames say about the rig: grades, causes, what was expected, what changes over the series.

In: measured star fields (`measure.stars`), the rig and the site as known. Out: a report on each frame and the series.
Read `report.py`.
"""
