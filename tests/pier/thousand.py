"""Whoever follows the advice about a whole pier: wiring, column and balance of as many random set-ups.

Run ``python -m tests.pier.thousand 1000 17``: what is made of all suggestions, and of each objection's own, is judged
by `circuits`, `statics` and `balancing`, which share no arithmetic with the adviser. It ends with 1 where anything is
left.
"""

import sys

from tests.pier import balancing, following, standing


def main(count, seed):
    found = 0
    for part in (balancing, standing, following):
        tally, left = part.follow(count, seed)
        print(part.__name__, tally, len(left), *left[:8], sep="\n  ", flush=True)
        found += len(left)
    return min(found, 1)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
