"""What people type into the fields of a page: numbers, places and a first set of equipment, read and checked.

In: texts. Out: numbers, angles, or a new equipment file. Read `typed.py`, then `first_equipment.py`.
"""
