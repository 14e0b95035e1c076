"""The memory that uploaded files take: given back once their page is closed or loaded anew, bounded for each page."""

import re
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import streamlit as st
from streamlit import runtime
from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
from streamlit.runtime.scriptrunner import get_script_run_ctx

MOST_MB = 2000  # of one page; a longer series is for "planner frame FOLDER"
_UPLOAD = re.compile(r"/_stcore/upload_file/([^/]+)/[^/]+$")
_FULL = f"This page holds files of {MOST_MB} MB at most. Remove some, or use: planner frame FOLDER".encode()
_coming: dict[str, int] = defaultdict(int)  # bytes on their way to a page
_open: dict[str, Sequence[Any]] = {}  # what a page reads; Streamlit keeps it for a page that may come back


class UploadMemory:
    """A layer of the server (ASGI) that minds the uploaded files; Streamlit keeps them until somebody else leaves."""

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Pass a request on, or refuse a file for which a page has no room left."""
        upload = _UPLOAD.search(scope["path"]) if scope["type"] == "http" and scope["method"] == "PUT" else None
        if scope["type"] == "websocket":  # a page, as long as it is open
            try:
                await self._app(scope, receive, send)
            finally:
                give_back()
        elif upload is None:
            await self._app(scope, receive, send)
        else:
            await self._upload(upload[1], scope, receive, send)

    async def _upload(self, page: str, scope: Any, receive: Any, send: Any) -> None:
        text = dict(scope["headers"]).get(b"content-length", b"0")
        size, files = int(text) if text.isdigit() else 0, _files()
        held = sum(len(file.data) for file in list(files.file_storage.get(page, {}).values())) if files else 0
        if held + _coming[page] + size > MOST_MB * 1e6:
            await send({"type": "http.response.start", "status": 413, "headers": [(b"content-type", b"text/plain")]})
            await send({"type": "http.response.body", "body": _FULL})
            return
        _coming[page] += size
        try:
            await self._app(scope, receive, send)
        finally:
            _coming[page] -= size
            if not _coming[page]:
                del _coming[page]


def opened(given: Sequence[Any], key: str) -> list[Any]:
    """Return the files of an uploader that a page still holds; they are closed when it is.

    `key`: of the uploader, under which Streamlit keeps them a second time.
    """
    context = get_script_run_ctx()
    if context is not None:
        _open[context.session_id] = [*given, *st.session_state.get(key, ())]
    return [file for file in given if not file.closed]


def give_back() -> None:
    """Forget the files of pages that are open no more."""
    files = _files()
    for page in {*_open, *(files.file_storage if files else ())}:
        if not runtime.get_instance().is_active_session(page):
            for file in _open.pop(page, ()):
                file.close()
            if files:
                files.remove_session_files(page)


def _files() -> Any:
    """Return who holds the uploaded files; None where no server runs, or another kind of it does."""
    held = runtime.get_instance().uploaded_file_mgr if runtime.exists() else None
    return held if isinstance(held, MemoryUploadedFileManager) else None
