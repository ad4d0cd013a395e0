"""The version is the newest entry of the changes that DEVELOPERS.md lists."""

import re
from pathlib import Path

from colorcore import __version__


def test_the_newest_entry_is_this_version():
    text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    entries = re.findall(r"^### (\S+)", text.partition("## Changes")[2], re.MULTILINE)
    assert entries[0] == __version__
