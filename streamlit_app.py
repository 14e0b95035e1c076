"""Page list and navigation; everything else lives in planner/ui."""

from starlette.middleware import Middleware
from streamlit.starlette import App

from planner.ui.first_paint import FirstPaint
from planner.ui.pages import run

if __name__ == "__main__":  # each visit runs this file
    run()
else:  # the server loads it once
    app = App(__file__, middleware=[Middleware(FirstPaint)])
