"""Work shared out among copies of a process: the answer is that of one core, whatever becomes of a copy."""

import os
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pytest

from planner import cores

HERE = os.getpid()


@pytest.fixture(autouse=True)
def _as_found(monkeypatch):
    monkeypatch.setattr(threading, "active_count", lambda: 1)  # tests before these may have left some
    yield
    cores.use(1)


@pytest.mark.parametrize("count", [1, 2, 3, 50])
@pytest.mark.parametrize("items", [0, 1, 2, 7])
def test_results_come_in_the_order_of_the_items(count, items):
    cores.use(count)
    rows = np.arange(3.0 * items).reshape(items, 3)
    assert cores.over_cores(lambda row: float(row @ row), rows) == [float(row @ row) for row in rows]


def test_the_work_is_shared_out_evenly():
    cores.use(2)
    where = cores.over_cores(lambda _: os.getpid(), range(6))
    assert where[::2] == [HERE] * 3
    assert len(set(where[1::2]) - {HERE}) == 1


def test_a_copy_makes_no_copies():
    cores.use(2)
    inner = cores.over_cores(lambda _: (os.getpid(), cores.over_cores(lambda _: os.getpid(), range(2))), range(2))
    assert inner[1][1] == [inner[1][0]] * 2


def test_other_threads_forbid_copies(monkeypatch):
    monkeypatch.undo()
    cores.use(2)
    done = threading.Event()
    other = threading.Thread(target=done.wait)
    other.start()
    try:
        assert cores.over_cores(lambda _: os.getpid(), range(4)) == [HERE] * 4
    finally:
        done.set()
        other.join()


def test_what_a_copy_that_dies_leaves_is_worked_out_here(capfd):
    def work(item):
        if os.getpid() != HERE:
            if item == 3:
                os.kill(os.getpid(), 9)
            raise KeyboardInterrupt
        return item**2

    cores.use(4)
    assert cores.over_cores(work, range(8)) == [item**2 for item in range(8)]
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("refused", ["fork", "pipe"])
def test_where_no_copy_can_be_made_all_is_worked_out_here(monkeypatch, refused):
    def none_left():
        raise BlockingIOError(11, "Resource temporarily unavailable")

    cores.use(3)
    open_before = len(os.listdir("/proc/self/fd"))
    monkeypatch.setattr(os, refused, none_left)
    assert cores.over_cores(lambda item: item + 1, range(7)) == list(range(1, 8))
    assert len(os.listdir("/proc/self/fd")) == open_before


def test_a_system_that_keeps_no_word_of_children_is_no_obstacle():
    cores.use(2)
    before = signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    try:
        assert cores.over_cores(lambda item: item + 1, range(4)) == [1, 2, 3, 4]
    finally:
        signal.signal(signal.SIGCHLD, before)


def test_copies_stop_when_the_asker_is_gone(tmp_path):
    code = """if True:
        import os, sys, time
        from planner import cores

        def work(item):
            if os.getppid() != starter and item < 98:  # a copy
                open(os.path.join(sys.argv[1], str(item)), "w").close()
                time.sleep(0.05)
            elif item == 0:
                time.sleep(0.5)
                os._exit(3)

        starter = os.getppid()
        cores.use(2)
        cores.over_cores(work, range(100))
    """
    assert subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False).returncode == 3
    time.sleep(0.5)
    done = len(list(tmp_path.iterdir()))
    time.sleep(0.5)
    assert 0 < len(list(tmp_path.iterdir())) == done


def test_an_error_is_that_of_the_item(capfd):
    cores.use(2)
    with pytest.raises(ZeroDivisionError):
        cores.over_cores(lambda item: 1 // (item - 3), range(6))
    assert "Traceback" not in capfd.readouterr().err


def test_all_cores_are_those_that_this_process_may_run_on():
    cores.use()
    assert cores._free == len(os.sched_getaffinity(0))
