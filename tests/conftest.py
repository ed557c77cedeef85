"""Where a change is handed in, generated examples are the same each time; elsewhere new ones are tried."""

import os

from hypothesis import settings

settings.register_profile("handed in", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("handed in")
