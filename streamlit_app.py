"""Page list and navigation; everything else lives in planner/ui."""

import logging
from threading import Thread

from starlette.middleware import Middleware
from streamlit.starlette import App

# Loaded before the server runs, the pages' caches would say that they find none yet.
logging.getLogger("streamlit.runtime.caching.cache_data_api").setLevel(logging.ERROR)

from planner.ui.first_paint import FirstPaint  # noqa: E402
from planner.ui.pages import make_ready, run  # noqa: E402
from planner.ui.upload_memory import UploadMemory  # noqa: E402

if __name__ == "__main__":  # each visit runs this file
    run()
else:  # the server loads it once
    Thread(target=make_ready, daemon=True).start()
    app = App(__file__, middleware=[Middleware(FirstPaint), Middleware(UploadMemory)])
