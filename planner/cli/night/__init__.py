"""Commands of when: tonight's plan, the year of a target, the months of all projects, and what a night brought.

In: words of a command line. Out: a plan in text, JSON, calendar, sheet or table; a night's record. Read `night` first.
"""
