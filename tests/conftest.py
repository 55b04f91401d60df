"""What every test needs before anything else is imported.

The platform's test harness brings a configuration folder with a
`custom_components` package of its own, and whichever package of that name is
imported first wins. Importing ours here makes sure that it is this repository's.
"""

import os

from hypothesis import settings

import custom_components  # noqa: F401

# A loaded machine is no failure, so no example has a deadline. Where nobody is
# there to look into a rare find, every run tries the same examples.
settings.register_profile("galley", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("galley")
