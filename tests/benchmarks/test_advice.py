"""How long one whole advice takes, beside the import of `astropy.coordinates` in a process of its own, in one run.

Run with `OPENBLAS_NUM_THREADS=1 pytest tests/benchmarks/test_advice.py`: one thread for linear algebra, as the command
line has it. CPU time, the least of several: other work on the machine adds to the clock, less to that. The import is
timed as anybody runs it and on one thread: without the threads that wake up for nothing it takes a fifth less.
"""

import datetime
import os
import resource
import subprocess
import sys
import time

import pytest

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.files.targets.stars import stars_around
from planner.session.advice.answer import advise

NOVEMBER = datetime.date(2026, 11, 10)
IMPORTS = 5
THREADS = "OPENBLAS_NUM_THREADS"


def time_of_import(**environment):
    """Return the least user time of a process that imports astropy.coordinates, in seconds."""
    inherited = {name: value for name, value in os.environ.items() if name != THREADS}
    spent = []
    for _ in range(IMPORTS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
        subprocess.run([sys.executable, "-c", "import astropy.coordinates"], check=True,
                       env={**inherited, **environment})
        spent.append(resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before)
    return min(spent)


@pytest.mark.parametrize("name", ["nebulae", "galaxies"])
def test_one_whole_advice(benchmark, name):
    demo, target = load_equipment(packaged_data("equipment.toml")), find_target("NGC 7331")
    rig, site = demo.rig(name), demo.site()
    stars = stars_around(target, rig)
    spent = []

    def once():
        begun = time.process_time()
        advice = advise(target, rig, site, NOVEMBER, stars=stars)
        spent.append(time.process_time() - begun)
        return advice

    advice = benchmark.pedantic(once, rounds=20, warmup_rounds=2)
    assert advice.need.verdict
    ours, imported, alone = min(spent), time_of_import(), time_of_import(**{THREADS: "1"})
    benchmark.extra_info.update(cpu_ms=1000 * ours, import_ms=1000 * imported, over_import=ours / imported,
                                over_import_on_one_thread=ours / alone)
    print(f"\n{name}: {1000 * ours:.0f} ms of CPU, {ours / imported:.2f} of the import of astropy.coordinates, "
          f"{ours / alone:.2f} of that on one thread")
