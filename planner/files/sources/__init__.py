"""Where numbers come from: every formula of the package with its reference, every catalogue with its licence.

In: the package's own text. Out: formulas and licences, for a page and a command. Read `formulas`.
"""
