"""The script that Streamlit runs: one frame around all pages."""

from pathlib import Path

import streamlit as st

from app.web.frame import show_frame

# A named icon would be fetched from the network; nothing here may be.
ICON = Path(__file__).with_name("static") / "icon.png"
st.set_page_config(page_title="Bundle Stacks", page_icon=str(ICON), layout="wide")
show_frame()
