"""Campaign: all projects over the nights that are left, each of them clear with some probability.

In: requests, rig, site, the first night, the chance of a clear night. Out: a `Campaign`: what to do tonight, what each
project may expect, and the odds that it is finished, from simulated weather. Read `campaign.py`, then `weather.py`.
"""
