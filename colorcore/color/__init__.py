"""Colour spaces, differences, names and grades."""
