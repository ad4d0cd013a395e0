"""The page 'squares'."""

import streamlit as st

st.title("squares")
