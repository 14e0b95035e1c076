"""Frames on dask's workers beside processes of our own: ``python tests/benchmarks/cluster.py [FRAMES] [SIDE]``.

Prints the time of a frame here, in processes and on 1 and 2 workers, what the scheduler takes for a task that does
nothing, how large a result is, and whether all answers are the same bytes. The measuring is CPU; the scheduler's share
says how many workers one scheduler feeds.

A hundred workers on one shared disk, on paper: a frame of 61 megapixels is 122 MB and 0.8 s of one core, so a worker
reads 150 MB/s and all of them 15 GB/s. The disk's line saturates first: one of 10 Gbit/s feeds 8 workers, one of 100
Gbit/s 80; beyond it frames have to lie on the workers' own disks, under the same paths. Next is the scheduler: 3.3 ms
for an empty task on a busy machine feed 240 workers. Results are last: 27 kB each, 125 frames a second, 3 MB/s.
Measured again under a load of 7 on two cores: two workers 1.40 s a frame of 2 megapixels, two processes 1.47 s, one
worker 2.87 s, one process 2.27 s, the same bytes; 6 ms for an empty task feed 120 workers even then. A simulated
world (`tests/worlds/spread.py`) is 3.5 s of one core and reads nothing: a scheduler feeds a thousand workers.
"""

import os
import pickle
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]


def main() -> None:
    """Measure and print."""
    from distributed import Client, LocalCluster

    from planner.cli.measure.frame_cluster import measure_on_cluster
    from planner.cli.measure.frame_run import measure_files
    from planner.files.measured.frame_results import stored
    from planner.files.measured.frame_task import Task, measure_file

    count, side = map(int, [*sys.argv[1:], *["40", "1400"][len(sys.argv) - 1:]])
    with tempfile.TemporaryDirectory() as folder:
        tasks = [Task(path=path, colour="green", mosaic=None, saturation=None, image_scale=None, telescope=None,
                      wavelength=None) for path in _frames(Path(folder), count, side)]
        begun = time.perf_counter()
        here = [measure_file(task) for task in tasks]
        alone = (time.perf_counter() - begun) / count
        sent, row = len(pickle.dumps(here[0])) / 1e3, len(stored((here[0].frame, here[0].field))) / 1e3
        print(f"{count} frames of {side**2 / 1e6:.1f} megapixels: {alone * 1e3:.0f} ms each in one process; a result "
              f"is {sent:.0f} kB, {row:.0f} kB as a row")
        begun = time.perf_counter()
        measure_files(tasks, 2)
        print(f"2 processes: {(time.perf_counter() - begun) / count * 1e3:.0f} ms each, start included")
        for workers in (1, 2):
            with LocalCluster(n_workers=workers, threads_per_worker=1, host="127.0.0.1",
                              dashboard_address=None) as cluster:
                list(measure_on_cluster(tasks[:workers], cluster.scheduler_address, None))  # imports
                begun = time.perf_counter()
                there = list(measure_on_cluster(tasks, cluster.scheduler_address, None))
                spent = (time.perf_counter() - begun) / count
                same = [stored((one.frame, one.field)) for one in there] == [
                    stored((one.frame, one.field)) for one in here]
                with Client(cluster.scheduler_address, set_as_default=False) as client:
                    begun = time.perf_counter()
                    client.gather(client.map(abs, range(2000), pure=False))
                    empty = (time.perf_counter() - begun) / 2000
            print(f"{workers} workers: {spent * 1e3:.0f} ms each, the same bytes: {same}; an empty task "
                  f"{empty * 1e3:.2f} ms")
    print(f"Load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores.")


def _frames(folder: Path, count: int, side: int) -> list[Path]:
    """Write frames of one field, each with noise of its own, and return their paths."""
    from astropy.io import fits
    from measure.frame_sim import Sky, draw

    image, _ = draw(Sky(fwhm=3.0, trail=1.0, stars=400, size=side, seed=1))
    paths = []
    for number in range(count):
        noise = np.random.default_rng(number).normal(0, 3, image.shape)
        paths.append(folder / f"{number:04d}.fits")
        fits.writeto(paths[-1], np.clip(image + noise, 0, 65535).astype(np.uint16))
    return paths


if __name__ == "__main__":
    main()
