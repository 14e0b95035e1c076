"""Streamlit pages: widgets in, one core call, display. Read `pages`, the list, then `choices`, the frame above each."""
