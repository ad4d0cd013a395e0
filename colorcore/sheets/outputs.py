"""All files of a plan, made together."""

import hashlib
import json
import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from colorcore.bundle import Bundle, PhotoRecord, bundle_to_json
from colorcore.contrast import Thresholds
from colorcore.errors import PhotoError
from colorcore.pattern import Pattern
from colorcore.sheets.pictures import Picture
from colorcore.sheets.plan_csv import plan_csv
from colorcore.sheets.plan_json import plan_bytes, plan_document
from colorcore.sheets.plan_page import PHOTO_SIDE, Section, plan_page
from colorcore.sheets.view import view_plan
from colorcore.stacking import Plan


def plan_files(
    plan: Plan,
    bundle: Bundle,
    pattern: Pattern,
    *,
    photos: Sequence[Picture | None],
    thresholds: Thresholds | None = None,
    sections: Sequence[Section] = (),
) -> dict[str, bytes]:
    """Return name and content of every file of a plan, ``plan.json`` last, as it marks a complete
    set: ``bundle.json``, ``plan.csv``, ``plan.html``, ``plan.json``.

    ``photos`` are sRGB-coded pictures (h, w, 3) of any size, one per photo of the bundle, None
    where one is not at hand.
    """
    view = view_plan(plan, bundle, pattern)
    text = json.dumps(bundle_to_json(bundle), ensure_ascii=False, indent=1, allow_nan=False)
    bundle_bytes = (text + "\n").encode("utf-8")
    page = plan_page(view, photos=photos, thresholds=thresholds, sections=sections)
    document = plan_document(
        view,
        pattern.text,
        source=pattern.source,
        thresholds=thresholds,
        bundle_file="bundle.json",
        bundle_sha256=hashlib.sha256(bundle_bytes).hexdigest(),
    )
    return {
        "bundle.json": bundle_bytes,
        "plan.csv": plan_csv(view).encode("utf-8"),
        "plan.html": page.encode("utf-8"),
        "plan.json": plan_bytes(document),
    }


def find_photos(
    bundle: Bundle, folders: Iterable[str | os.PathLike[str]] = ()
) -> tuple[Picture | None, ...]:
    """Return small pictures (h, w, 3), sRGB-coded, of a bundle's photos, None for those that are
    not at hand or are not the files that were measured.

    A photo is looked for at the path that the bundle gives and, by that path and by name, from
    ``folders`` and the folders that these lie in: a plan mostly lies one below the place where
    its photos were named.
    """
    return tuple(_find(record, [Path(folder) for folder in folders]) for record in bundle.photos)


def _find(record: PhotoRecord, folders: Sequence[Path]) -> Picture | None:
    from colorcore.photo import open_photo

    given = Path(record.path)
    around = [place for folder in folders for place in (folder, folder.absolute().parent)]
    for path in dict.fromkeys(
        (given, *(place / name for place in around for name in (given.name, given)))
    ):
        if not given.name or not path.is_file():
            continue
        try:
            photo = open_photo(path, max_pixels=2 * PHOTO_SIDE**2)
        except PhotoError:
            continue
        if photo.sha256 == record.sha256:
            return photo.small(PHOTO_SIDE)[0]
    return None
