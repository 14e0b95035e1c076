"""Commands of what to do with a target: guide or not, with which telescope and camera, and which object at all.

In: words of a command line. Out: an answer in text or JSON, of one core call each. Read `advise` first.
"""
