"""``python -m app`` is the command ``bundlestacks``."""

from app.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
