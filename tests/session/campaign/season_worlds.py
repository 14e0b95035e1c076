"""Seasons of random weather: following the season's program night after night against planning each night alone.

`python tests/session/campaign/season_worlds.py [SEASONS]` prints the comparison. The world, of invented projects whose
hours rise and fall with the season and the Moon, and the count of what is reached share nothing with the planner.
"""

import sys

import numpy as np

from planner.session.optimum.problem import Worth
from planner.session.optimum.season import season_plan

NIGHTS, PROJECTS, CLEAR, DARK = 240, 12, 0.3, 9.0


def world(seed, *, crowded=2.0):
    """Return rate and hours up (needs, nights), hours wanted and the project of each need.

    Half of the projects are lines, which lose two thirds to the Moon; half are broad, which lose nine tenths. In all
    `crowded` times as much is wanted as clear nights hold at half an hour's worth an hour.
    """
    rng = np.random.default_rng(seed)
    night = np.arange(NIGHTS)
    moon = np.clip(np.cos(2 * np.pi * (night - rng.uniform(0, 29.5)) / 29.5), 0, 1)
    rate, up, wanted, owner = [], [], [], []
    for project in range(PROJECTS):
        middle, half = rng.uniform(-40, NIGHTS + 40), rng.uniform(50, 110)
        height = np.clip(1 - ((night - middle) / half) ** 2, 0, 1)
        shares = (3, 1, 1, 1) if project % 2 else (3, 6, 9)
        for share in shares:
            rate.append((0.4 + 0.5 * height) * (1 - (0.9 if project % 2 else 0.65) * moon))
            up.append(7 * np.sqrt(height))
            wanted.append(share * rng.uniform(0.7, 1.4))
            owner.append(project)
    wanted = np.array(wanted) * crowded * CLEAR * NIGHTS * DARK * 0.5 / np.sum(wanted)
    return np.array(rate), np.array(up), wanted, np.array(owner)


def followed(seed, *, look_ahead, crowded=2.0):
    """Return share of wanted hours done, mean root of the shares, share of jobs finished, after a random season."""
    rate, up, wanted, _ = world(seed, crowded=crowded)
    clear = np.random.default_rng(1000 + seed).random(NIGHTS) < CLEAR
    done = np.zeros(len(wanted))
    for night in np.flatnonzero(clear):
        last = NIGHTS if look_ahead else night + 1
        chance = np.append(1.0, np.full(last - night - 1, CLEAR))
        worth = Worth(weight=np.ones(len(wanted)), wanted=wanted, done=done, left=wanted - done)
        plan = season_plan(worth, rate[:, night:last], up[:, night:last], np.full(last - night, DARK), chance)
        clock = plan.clock[:, 0]
        assert clock.sum() <= DARK + 1e-6
        done = np.minimum(done + clock * rate[:, night], wanted)
    share = done / wanted
    return done.sum() / wanted.sum(), np.sqrt(share).mean(), (share > 0.98).mean()


if __name__ == "__main__":
    seasons = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    for crowded in (1.0, 2.0):
        rows = {name: np.array([followed(seed, look_ahead=ahead, crowded=crowded) for seed in range(seasons)])
                for name, ahead in (("night by night", False), ("look-ahead", True))}
        better = [(rows["look-ahead"][:, which] >= rows["night by night"][:, which]).mean() for which in range(3)]
        for name, found in rows.items():
            print(f"wanted {crowded:g} x what fits, {name:15s} hours done {found[:, 0].mean():.3f}  "
                  f"mean root {found[:, 1].mean():.3f}  jobs finished {found[:, 2].mean():.3f}")
        print(f"look-ahead as good or better in {' / '.join(f'{share:.0%}' for share in better)} of {seasons} seasons")
