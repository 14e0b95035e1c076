"""The command of the pier: balance, 12 V, the column, and the sway measured on it.

In: words of a command line. Out: verdicts in text or JSON. Read `pier` first.
"""
