"""What people type into the fields of a page: numbers and places, read and checked.

In: texts. Out: numbers and angles. Read `typed.py`.
"""
