"""The night in slots: when each target can be worked on, what each slot is worth, and its runs as blocks of whole subs.

In: requests, the night, what the sky takes. Out: `blocks.SubBlock`s. Read `windows.py`, `slot_worth.py`, `rows.py`,
then `blocks.py`.
"""
