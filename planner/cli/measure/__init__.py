"""Commands of what the rig really does: test frames, drift logs, the polar axis, pointing, and what to measure next.

In: words of a command line and measured files. Out: a measurement in text or JSON. Read `measured`, then `frame`.
"""
