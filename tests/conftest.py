"""Settings of all tests."""

from hypothesis import settings

# How long an example takes tells of the machine's other work, not of the code.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
