"""Settings for all tests."""

from hypothesis import settings

# No test is timed: how long an example takes says something about the machine, not the program.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
