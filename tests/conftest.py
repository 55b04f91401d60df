"""What every test needs before anything else is imported.

The platform's test harness brings a configuration folder with a
`custom_components` package of its own, and whichever package of that name is
imported first wins. Importing ours here makes sure that it is this repository's.
"""

import custom_components  # noqa: F401
