"""Whether a pier stands: what would tip it, sink it, buckle, bend or crack it, pull out its rods, and what mends it.

In: column, footing and loads. Out: `Standing` (`verdict`). `actions` says what the pier must survive, `buckling` and
`ground` what it takes; `inspection` holds one against the other, `mending` grows what fails.
"""
