"""The first page of a visitor without equipment of their own: one way in, and the demo one click away."""

import streamlit as st


def page() -> None:
    """Show the page."""
    st.header("What shall the camera do tonight, on your mount, under your sky?", anchor=False)
    st.markdown("Describe where you observe and with what: one page, some three minutes. Then this program says "
                "whether to guide and how long a sub may be, plans your nights with the flips, and learns from what "
                "you measure. Everything stays on this machine.")
    pages = st.session_state["pages"]
    with st.container(horizontal=True, vertical_alignment="center"):
        if st.button("Describe my site and rig", type="primary", key="welcome_setup"):
            st.switch_page(pages["equipment.setup_page"])
        if st.button("Look around in the demo", key="welcome_demo"):
            st.switch_page(pages["night.tonight_page"])
    st.caption("The demo is an invented observer with invented gear. Pages that answer for it say so in their heading "
               "and wear a striped edge.")
