"""The page 'stacks'."""

import streamlit as st

st.title("stacks")
