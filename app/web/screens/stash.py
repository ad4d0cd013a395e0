"""The page 'stash'."""

import streamlit as st

st.title("stash")
