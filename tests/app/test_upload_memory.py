"""Uploaded files are given back with their page, and a page's are bounded; in Streamlit's own store."""

import asyncio
import io
import threading
from types import SimpleNamespace

import pytest
from streamlit import runtime
from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
from streamlit.runtime.uploaded_file_manager import UploadedFileRec

from planner.ui import upload_memory
from planner.ui.upload_memory import UploadMemory, opened


@pytest.fixture
def files(monkeypatch):
    """A store of files for two pages, of which "open" is still open."""
    store = MemoryUploadedFileManager("/_stcore/upload_file")
    for session in ("open", "left"):
        store.add_file(session, UploadedFileRec(file_id="1", name="a.fits", type="", data=bytes(1000)))
    server = SimpleNamespace(uploaded_file_mgr=store, is_active_session=lambda session: session == "open")
    monkeypatch.setattr(runtime, "exists", lambda: True)
    monkeypatch.setattr(runtime, "get_instance", lambda: server)
    return store


def _asked(scope):
    """What the layer sends for a request, and what it passes on."""
    sent, passed = [], []

    async def inner(scope, receive, send):
        passed.append(scope)

    async def send(message):
        sent.append(message)

    _done(UploadMemory(inner)(scope, None, send))
    return sent, passed


def _done(work):
    """Do asynchronous work on a thread of its own: a browser's loop may run on this one."""
    worker = threading.Thread(target=asyncio.run, args=(work,))
    worker.start()
    worker.join()


def test_a_page_that_is_left_gives_its_files_back(files, monkeypatch):
    mine, others = io.BytesIO(bytes(10)), io.BytesIO(bytes(10))
    for page, file in (("left", mine), ("open", others)):
        monkeypatch.setattr(upload_memory, "get_script_run_ctx", lambda page=page: SimpleNamespace(session_id=page))
        assert opened([file], "files") == [file]
    sent, passed = _asked({"type": "websocket", "path": "/_stcore/stream"})
    assert passed
    assert not sent
    assert list(files.file_storage) == ["open"]
    assert mine.closed
    assert not others.closed
    assert opened([mine, others], "files") == [others]


@pytest.mark.parametrize(("page", "size", "refused"), [
    ("open", b"1500", False), ("open", b"2001", True), ("new", b"2001", False), ("new", b"3001", True),
    ("open", b"", False)])
def test_a_page_holds_so_much_and_no_more(files, monkeypatch, page, size, refused):
    monkeypatch.setattr(upload_memory, "MOST_MB", 0.003)
    sent, passed = _asked({"type": "http", "method": "PUT", "path": f"/_stcore/upload_file/{page}/2",
                           "headers": [(b"content-length", size)]})
    assert bool(passed) is not refused
    assert [message.get("status") for message in sent] == ([413, None] if refused else [])


def test_files_on_their_way_count(files, monkeypatch):
    monkeypatch.setattr(upload_memory, "MOST_MB", 0.003)
    statuses = []

    async def slowly(scope, receive, send):
        await asyncio.sleep(0.05)

    async def send(message):
        statuses.append(message.get("status"))

    async def both():
        layer = UploadMemory(slowly)
        await asyncio.gather(*(layer(
            {"type": "http", "method": "PUT", "path": f"/_stcore/upload_file/new/{number}",
             "headers": [(b"content-length", b"1800")]}, None, send) for number in range(2)))

    _done(both())
    assert statuses == [413, None]
    _done(both())  # those that have come count where they are kept, not twice
    assert statuses == [413, None] * 2


def test_other_requests_pass(files):
    for method, path in (("GET", "/tonight"), ("PUT", "/elsewhere")):
        assert _asked({"type": "http", "method": method, "path": path, "headers": [(b"content-length", b"9" * 12)]})[1]
