"""A photo that is looked at while it is still being decoded."""

from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from colorcore.photo.encoding import Encoding, Pixels
from colorcore.photo.model import Photo, reduced_to


@dataclass(frozen=True, eq=False)
class PhotoAhead:
    """A photo of ``width`` x ``height`` pixels of which all or only the ``preview`` is there yet.

    It shows the same as the ``Photo`` that it becomes. What its decoder has to complain about,
    a PhotoError, comes from ``whole`` and ``pixels``, and from ``small`` where the preview is not
    enough.
    """

    width: int
    height: int
    encoding: Encoding
    preview: NDArray[np.uint8] | None = field(repr=False)
    _coming: "Future[Photo]" = field(repr=False)

    def whole(self) -> Photo:
        """Wait for the photo.

        Raises
        ------
        PhotoError
            If its pixels are damaged.
        """
        return replace(self._coming.result(), preview=self.preview)

    @property
    def pixels(self) -> Pixels:
        """Wait for the coded pixels (H, W, 3).

        Raises
        ------
        PhotoError
            As ``whole``.
        """
        return self.whole().pixels

    def small(self, max_side: int) -> tuple[NDArray[np.uint8], float]:
        """Return the picture reduced, as ``Photo.small`` does; wait only where the preview is not
        enough.

        Raises
        ------
        PhotoError
            As ``whole``, where it waits.
        """
        return reduced_to(max_side, (self.width, self.height), self._reducible(), self.encoding)

    def _reducible(self) -> Iterator[Pixels]:
        if self.preview is not None:
            yield self.preview
        yield self.pixels
