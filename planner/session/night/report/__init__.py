"""A night's plan as it is told: as JSON, on a sheet of paper, in the terminal, in sentences.

In: a `NightPlan`. Out: plain texts and numbers, which command and page share. Read `words.py` first.
"""
