"""``python -m tests.app.web.slowly`` is ``python -m app`` on a machine where the work takes long.

Each step that a page waits for takes some seconds more, so that a test can click while it runs.
"""

import functools
import time
from collections.abc import Callable
from typing import Any, Final

from app.cli import main
from app.web import steps
from app.web.workshop import Workshop

MORE_SECONDS: Final = 2.0


def _slowed(work: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(work)
    def slow(*given: Any, **named: Any) -> Any:
        time.sleep(MORE_SECONDS)
        return work(*given, **named)

    return slow


if __name__ == "__main__":
    for owner, name in ((Workshop, "deal"), (Workshop, "finding"), (steps, "checked_plan")):
        setattr(owner, name, _slowed(getattr(owner, name)))
    raise SystemExit(main())
