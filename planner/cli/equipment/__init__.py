"""Commands of what the observer owns: a file to begin with, and what it says of each part.

In: words of a command line. Out: a file, or figures in text or JSON. Read `gear` first.
"""
