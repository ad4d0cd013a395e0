"""``plan.pdf``: the making sheet as a document to print.

Typeset by Typst, which comes as one wheel with its own fonts: no other program has to be on the
machine, accents and fractions are set properly, drawings stay sharp, and the file is tagged, so
that it can be read aloud. All words reach it as data, never as markup.
"""

import dataclasses
import json
import tempfile
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from colorcore.errors import OutputError
from colorcore.plain import printable
from colorcore.sheets.cutting_parts import Content, Drawn
from colorcore.sheets.letters import missing_letters, spelled

PAPERS: Final = ("us-letter", "a4")
SPELLED: Final = (
    "Some letters of names are in no font of this machine: they are spelled here by sound, by name "
    "or by their number (U+). plan.html shows them as they are."
)


def making_pdf(content: Content, *, paper: str = "us-letter") -> bytes:
    """Return the making sheet as a PDF.

    Parameters
    ----------
    paper : str
        ``us-letter`` or ``a4``.

    Raises
    ------
    OutputError
        If the paper is another, or the document cannot be set.
    """
    import typst

    if paper not in PAPERS:
        raise OutputError(f"The paper is one of {', '.join(PAPERS)}, not {paper!r}.")
    template = files("colorcore.sheets").joinpath("templates/making.typ").read_bytes()
    with tempfile.TemporaryDirectory(prefix="bundlestacks-") as place:
        folder = Path(place)
        (folder / "making.typ").write_bytes(template)
        _write(_plain(content, folder), folder)
        try:
            made = typst.compile(
                str(folder / "making.typ"), root=str(folder), sys_inputs={"paper": paper}
            )
        except typst.TypstError as error:
            raise OutputError(f"plan.pdf could not be set: {_first_line(error)}") from error
    if not isinstance(made, bytes):
        raise OutputError("plan.pdf could not be set: it did not become one document.")
    return made


def _write(data: dict[str, Any], folder: Path) -> None:
    """Write ``content.json``; letters that no font has are spelled there and in the drawings."""
    text = json.dumps({**data, "spelled": ""}, ensure_ascii=False)
    drawings = {path: path.read_text(encoding="utf-8") for path in folder.glob("*.svg")}
    missing = missing_letters([text, *drawings.values()])
    if missing:
        text = spelled(json.dumps({**data, "spelled": SPELLED}, ensure_ascii=False), missing)
        for path, drawing in drawings.items():
            path.write_text(spelled(drawing, missing), encoding="utf-8")
    (folder / "content.json").write_text(text, encoding="utf-8")


def _first_line(error: Exception) -> str:
    return " ".join(str(error).split())[:200]


def _plain(value: Any, folder: Path, count: list[int] | None = None) -> Any:
    """Turn the content into plain data; drawings and pictures become files in ``folder``."""
    numbers = [0] if count is None else count
    if isinstance(value, Drawn):
        numbers[0] += 1
        if value.jpeg:
            name = f"picture{numbers[0]}.jpg"
            (folder / name).write_bytes(value.jpeg)
        else:
            name = f"drawing{numbers[0]}.svg"
            (folder / name).write_text(value.svg, encoding="utf-8")
        return {"file": name, "words": printable(value.words)}
    if dataclasses.is_dataclass(value):
        return {
            f.name: _plain(getattr(value, f.name), folder, numbers)
            for f in dataclasses.fields(value)
        }
    if isinstance(value, tuple | list):
        return [_plain(item, folder, numbers) for item in value]
    return printable(value) if isinstance(value, str) else value
