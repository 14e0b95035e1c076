"""A result in, an Altair chart out: no arithmetic, no Streamlit."""
