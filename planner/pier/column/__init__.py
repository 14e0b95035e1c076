"""The column: what it stands on and bears, whether it stands still, and when its concrete takes the mount.

In: `Column` and `TopLoads` (`model`), `Footing` (`footing`). Out: `ColumnAnswer` (`answer`): the verdict of
`standing`, what pushes do to the star (`sway`, `motion`, `warmth`), the concrete by age. Read `model`, then `answer`.
"""
