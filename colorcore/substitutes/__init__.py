"""What would serve instead of a square, and what is missing from a bundle.

Import from the modules: ``finding`` (substitutes for one square of a plan), ``candidates`` (what
there is to choose from), ``shopping`` (what to add to a bundle), ``nearest`` (search by colour).
"""
