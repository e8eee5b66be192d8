"""Where whole photos live: a local folder by default, any fsspec URL (`s3://...`) by setting."""

from __future__ import annotations

from typing import Any

import fsspec

from tepal.domain.errors import NotFoundError


class PhotoStorage:
    """Photos by establishment and SHA-256, written once and never changed."""

    def __init__(self, url: str) -> None:
        self._fs, self._root = fsspec.core.url_to_fs(url)

    def _path(self, establishment: str, sha256: str) -> str:
        return f"{self._root}/{establishment}/{sha256[:2]}/{sha256}.jpg"

    def write(self, establishment: str, sha256: str, content: bytes) -> None:
        """Write a photo; under another name first, so that a half-written one is never seen."""
        path = self._path(establishment, sha256)
        self._fs.makedirs(path.rsplit("/", 1)[0], exist_ok=True)
        part = f"{path}.part"
        with self._fs.open(part, "wb") as file:
            file.write(content)
        self._fs.mv(part, path)

    def read(self, establishment: str, sha256: str) -> bytes:
        """Return a photo's bytes.

        Raises
        ------
        NotFoundError   `photos.not_stored`.
        """
        try:
            content: Any = self._fs.cat_file(self._path(establishment, sha256))
        except FileNotFoundError as error:
            raise NotFoundError("photos.not_stored", "this photo is not in storage") from error
        return bytes(content)
