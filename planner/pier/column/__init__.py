"""The column: what it stands on and bears, whether it stands still, and when its concrete takes the mount.

In: `Column` and `TopLoads` (`model`), `Footing` (`footing`). Out: `Standing` (`verdict`): what would tip, sink, buckle,
crack or shake, with the remedy; `ColumnResponse` (`sway`): what pushes do to the star. Read `model`, then `verdict`.
"""
