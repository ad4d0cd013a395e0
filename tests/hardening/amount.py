"""How many broken files a run tries, and from which seed.

``BUNDLESTACKS_TIMES=28 BUNDLESTACKS_FIRST=100 pytest tests/hardening -n 2`` tries 28 times as many
cases, other ones than the usual run does.
"""

import os

TIMES = int(os.environ.get("BUNDLESTACKS_TIMES", "1"))
FIRST = int(os.environ.get("BUNDLESTACKS_FIRST", "0"))
