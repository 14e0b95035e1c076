"""Page list and navigation; everything else lives in planner/ui."""

from planner.ui.pages import run

run()
