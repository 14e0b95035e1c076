"""Try many mutated files and words: ``python tests/fuzz/long_fuzz.py [ATTEMPTS] [SEED]``; prints tried and failed."""

import os
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from fuzz.attempts import attempts  # noqa: E402


def main() -> int:
    """Run the attempts in an empty folder of settings and print what failed."""
    count, seed = map(int, [*sys.argv[1:], *["10000", "1"][len(sys.argv) - 1:]])
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder
        failed = Counter(found for found in attempts(seed, count, Path(folder)) if found is not None)
    for line, times in failed.most_common():
        print(f"{times} x {line}")
    print(f"tried {count}, failed {failed.total()}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
