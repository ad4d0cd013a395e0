"""The page 'sewing'."""

import streamlit as st

st.title("sewing")
