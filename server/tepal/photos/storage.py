"""Where whole files live: a local folder by default, any fsspec URL (`s3://...`) by setting."""

from __future__ import annotations

from typing import Any, Final

import fsspec

from tepal.domain.errors import NotFoundError

# media type -> what its files are called on the disk; nothing a person typed is in a path
SUFFIX: Final = {
    "image/jpeg": "jpg",
    "application/pdf": "pdf",
    "audio/webm": "webm",
    "audio/mp4": "m4a",
}


class PhotoStorage:
    """Files by establishment and SHA-256, written once and never changed."""

    def __init__(self, url: str) -> None:
        self._fs, self._root = fsspec.core.url_to_fs(url)

    def _path(self, establishment: str, sha256: str, media_type: str) -> str:
        suffix = SUFFIX[media_type]
        return f"{self._root}/{establishment}/{sha256[:2]}/{sha256}.{suffix}"

    def write(
        self, establishment: str, sha256: str, content: bytes, media_type: str = "image/jpeg"
    ) -> None:
        """Write a file; under another name first, so that a half-written one is never seen."""
        path = self._path(establishment, sha256, media_type)
        self._fs.makedirs(path.rsplit("/", 1)[0], exist_ok=True)
        part = f"{path}.part"
        with self._fs.open(part, "wb") as file:
            file.write(content)
        self._fs.mv(part, path)

    def read(self, establishment: str, sha256: str, media_type: str = "image/jpeg") -> bytes:
        """Return a file's bytes.

        Raises
        ------
        NotFoundError   `photos.not_stored`.
        """
        try:
            content: Any = self._fs.cat_file(self._path(establishment, sha256, media_type))
        except FileNotFoundError as error:
            raise NotFoundError("photos.not_stored", "this photo is not in storage") from error
        return bytes(content)
