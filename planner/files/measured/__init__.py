"""What was measured on frames, as files: one frame as a task for any process, the results of a season, drift logs.

Read `frame_task.py` first, then `frame_results.py`.
"""
