"""The page 'background'."""

import streamlit as st

st.title("background")
