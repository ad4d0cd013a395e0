"""``python -m app`` is the command ``bundlestacks``."""

from app.cli import main

raise SystemExit(main())
