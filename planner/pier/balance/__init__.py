"""The balance: what torque is left on each axis wherever the tube points, and the moves that take it away.

In: `Assembly` (`model`). Out: `BalancePlan` (`plan`): verdict, objections, moves a hand can make, the balance after
them. Read `model`, `torque`, then `plan`, which asks `tube` and `bar` for the moves.
"""
