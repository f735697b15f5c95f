"""Settings for all tests."""

import os

from hypothesis import settings

# Visits of the tests become no cases in the log of whoever runs them; who tests that, names one.
os.environ["BRINEBAYES_CASES"] = "off"

# No test is timed: how long an example takes says something about the machine, not the program.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
