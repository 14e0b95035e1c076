"""Streamlit pages: widgets in, one core call, display."""
