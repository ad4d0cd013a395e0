"""``python -m app`` is the command ``bundlestacks``."""


def begin() -> int:
    """Run the command line and return its exit code, 130 where Ctrl-C comes before it is even
    loaded."""
    try:
        from app.cli import main

        return main()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    raise SystemExit(begin())
