"""`planner frame` on the workers of a dask scheduler: the same bytes in the same order, whatever happens to them."""

import functools
import json
import os
import signal
import sys
import threading
import types

import pytest
from measure.frame_sim import Sky, draw

from planner.cli import run
from planner.cli.measure.frame_cluster import measure_on_cluster
from planner.errors import InvalidInputError
from planner.files.measured.frame_results import stored
from planner.files.measured.frame_task import Task, measure_file

distributed = pytest.importorskip("distributed")
pytestmark = pytest.mark.filterwarnings("ignore")  # sockets and processes of a cluster that is being closed
FRAMES = 8


@pytest.fixture(scope="module")
def tasks(tmp_path_factory):
    from astropy.io import fits

    folder = tmp_path_factory.mktemp("frames")
    for number in range(FRAMES):
        image = draw(Sky(fwhm=3.0, trail=0.3 * number, stars=60, size=240, seed=number))[0]
        fits.writeto(folder / f"frame{number}.fits", image)
    (folder / "frame5.fits").write_text("no frame")
    return [Task(path=path, colour="green", mosaic=None, saturation=None, image_scale=None, telescope=None,
                 wavelength=None) for path in sorted(folder.iterdir())]


@pytest.fixture(scope="module")
def cluster():
    # A worker begins by reading the main module again, and a page's test may have left its page there.
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "__main__", types.ModuleType("__main__"))
        with distributed.LocalCluster(n_workers=2, threads_per_worker=1, host="127.0.0.1",
                                      dashboard_address=None) as made:
            yield made


def bytes_of(results):
    return [(result.path, str(result.error)) if result.error else (result.path, stored((result.frame, result.field)))
            for result in results]


def test_workers_lost_before_the_first_frame_lose_none(tasks, cluster, monkeypatch):
    monkeypatch.setattr("planner.cli.measure.frame_cluster.version_here", functools.partial(os._exit, 1))
    assert bytes_of(measure_on_cluster(tasks, cluster.scheduler_address, None)) == bytes_of(map(measure_file, tasks))


def test_a_worker_killed_midway_loses_no_frame(tasks, cluster):
    here = bytes_of(map(measure_file, tasks))
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        pids = client.run(os.getpid)
    there = measure_on_cluster(tasks, cluster.scheduler_address, None)
    found = [next(there)]
    os.kill(next(iter(pids.values())), signal.SIGKILL)
    assert bytes_of([*found, *there]) == here


def test_without_a_worker_left_it_says_once_that_it_waits(tasks, monkeypatch, capsys):
    here = bytes_of(map(measure_file, tasks))
    with distributed.LocalCluster(n_workers=1, threads_per_worker=1, host="127.0.0.1",
                                  dashboard_address=None) as made:
        there = measure_on_cluster(tasks, made.scheduler_address, None)
        found = [next(there)]
        monkeypatch.setattr("planner.cli.measure.frame_cluster.PATIENCE_S", 1)
        made.scale(0)
        threading.Timer(8, made.scale, [1]).start()
        assert bytes_of([*found, *there]) == here
    told = capsys.readouterr().err
    assert told.count("No worker is left") == 1
    assert made.scheduler_address in told


def test_a_worker_that_cannot_answer_is_refused(tasks, cluster, monkeypatch):
    monkeypatch.setattr("planner.cli.measure.frame_cluster.version_here", functools.partial(int, "no number"))
    with pytest.raises(InvalidInputError, match="has a worker without this program"):
        next(measure_on_cluster(tasks, cluster.scheduler_address, None))


def test_a_stopped_run_goes_on_and_reports_as_one_run(tasks, cluster, tmp_path, capsys):
    folder, words = str(tasks[0].path.parent), ["--json", "--quiet"]
    assert run(["frame", folder, "--workers", "1", *words]) == 0
    alone = capsys.readouterr().out
    whole, cut = tmp_path / "whole.ecsv", tmp_path / "cut.ecsv"
    assert run(["frame", folder, "--workers", "1", "--results", str(whole), *words]) == 0
    assert capsys.readouterr().out == alone
    lines = whole.read_bytes().splitlines(keepends=True)
    cut.write_bytes(b"".join(lines[:-3]) + lines[-3][:700])  # killed while it wrote
    assert run(["frame", folder, "--scheduler", cluster.scheduler_address, "--results", str(cut), *words]) == 0
    assert capsys.readouterr().out == alone
    assert cut.read_bytes() == whole.read_bytes()


@pytest.mark.parametrize(("words", "rule"), [
    (["--scheduler", "nonsense"], "must be an address"), (["--scheduler", "tcp://127.0.0.1:1"], "does not answer"),
    (["--scheduler", "tcp://127.0.0.1:1", "--workers", "2"], "counts on this machine alone"),
    (["--watch", "--scheduler", "here"], "does not go with --watch"),
    (["--watch", "--log", "night.csv"], "--log = night.csv: does not go with --watch"),
])
def test_what_cannot_be_is_one_line(tasks, monkeypatch, capsys, words, rule):
    monkeypatch.setattr("planner.cli.measure.frame_cluster.PATIENCE_S", 0.2)
    assert run(["frame", str(tasks[0].path), *words, "--json"]) == 2
    assert rule in json.loads(capsys.readouterr().err)["error"]["message"]
