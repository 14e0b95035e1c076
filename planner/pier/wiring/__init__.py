"""The 12 V tree: whether it can burn, drop out or run dry, and what mends it.

In: `PowerTree` and `Conditions` (`power`). Out: `Wiring` (`verdict`): the verdict, each objection with its remedy, and
the tree with all remedies made. Read `power`, `inspection`, then `mending`.
"""
