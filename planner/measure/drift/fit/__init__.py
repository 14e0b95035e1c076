"""Fitting a drift log: rows made fit, steps, a random walk under white noise, and periodic terms one by one.

In: times and offsets as plain floats. Out: rates, terms and widths with errors. Read `wander_noise`, then
`periodic_terms`.
"""
