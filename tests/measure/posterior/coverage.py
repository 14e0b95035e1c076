"""How often the errors that a log states hold: ``python tests/measure/posterior/coverage.py [mounts]``.

Prints for each kind of log and each figure the share of mounts within one and two standard errors (68 and 95 %).
"""

import sys
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[3])]

from measure.posterior.test_posterior import coverage
from worlds.measured import LOGS

if __name__ == "__main__":
    for name, shape in LOGS.items():
        for key, off in coverage(range(1000, 1000 + int(sys.argv[1]) if len(sys.argv) > 1 else 1200), shape).items():
            size = np.abs(off)
            print(f"{name:20s} {key:22s} {len(off):4d}: {np.mean(size < 1):4.0%} {np.mean(size < 2):4.0%}, "
                  f"mean {np.mean(off):+.2f}, rms {np.sqrt(np.mean(size**2)):.2f}")
