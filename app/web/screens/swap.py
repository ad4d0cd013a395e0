"""The page 'swap'."""

import streamlit as st

st.title("swap")
