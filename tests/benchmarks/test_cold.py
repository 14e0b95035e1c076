"""What a command costs in a fresh process, over the import of astropy.coordinates and scipy.optimize.

In pairs, one after the other: other work on the machine falls on both sides alike.
"""

import os
import resource
import statistics
import subprocess
import sys
import time

import pytest

LIBRARIES = "import astropy.coordinates, scipy.optimize"
COMMAND = "from planner.cli import main; import sys; sys.argv = ['planner', *{!r}.split()]; main()"
PAIRS = 10


@pytest.mark.parametrize("words", [
    pytest.param("advise NGC7331 --night 2026-11-10 --json", id="advise"),
    pytest.param("night --night 2026-11-10 --json", id="night"),
    pytest.param("night --night 2026-11-25 --json", id="moonlit night"),
])
def test_cold_start(record_property, words):
    # The CPU that copies of the command on other cores take counts, too.
    libraries, command = zip(*((cold(LIBRARIES), cold(COMMAND.format(words))) for _ in range(PAIRS)), strict=True)
    for place, name in enumerate(("over_importing_libraries", "cpu_over_importing_libraries")):
        record_property(name, statistics.median(ours[place] / base[place]
                                                for ours, base in zip(command, libraries, strict=True)))
    record_property("seconds", statistics.median(wall for wall, _ in command))


def cold(code):
    """Run code in a fresh process, compiled as installed, and return its wall and CPU seconds."""
    compiled = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    begin, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=compiled)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.perf_counter() - begin, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
