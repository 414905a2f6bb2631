"""The door of a stored file: its bytes or a part of them, and nothing that a browser would run."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import IO, Any, ClassVar, NamedTuple

from django.http.response import HttpResponseBase
from rest_framework.renderers import BaseRenderer

from plantcare.api import byte_ranges
from plantcare.api.renderers import ApiJsonRenderer
from plantcare.api.views import Door


class StoredFile(NamedTuple):
    """A file that can be sent: how to open it, what is in it, and the name under which it may be saved."""

    open: Callable[[], IO[bytes]]
    sha256: str
    content_type: str
    save_as: str


class FileDoor(Door):
    """GET the bytes of a file that one row names, whole or in part (Range), by an ETag that is its hash.

    ``media`` names every content type that can be answered; each is our own word for what was found in the
    file, never the sender's.
    """

    verbs: ClassVar[Mapping[str, str]] = {"GET": "read"}
    media: ClassVar[Sequence[str]] = ()

    def stored(self, obj: Any) -> StoredFile:
        """Return the file of a row. Raises NotFound where it has none."""
        raise NotImplementedError

    def get_renderers(self) -> list[Any]:
        """Return what is agreed upon with the caller: the media, and JSON for refusals."""
        return [*(_Bytes(media) for media in self.media), ApiJsonRenderer()]

    def get(self, *_: Any, **__: Any) -> HttpResponseBase:
        """Answer the bytes, or that the caller's copy still holds."""
        found = self.stored(self.get_object())
        etag = f'"{found.sha256}"'
        if byte_ranges.is_unchanged(self.request, etag):
            return byte_ranges.unchanged(etag)
        file: Any = found.open()
        try:
            size = int(file.size)
            part = byte_ranges.part_of(self.request, size, etag)
        except BaseException:
            file.close()
            raise
        headers = {"ETag": etag, "Content-Disposition": f'attachment; filename="{found.save_as}"'}
        return byte_ranges.file_answer(
            file, part, size=size, content_type=found.content_type, headers=headers
        )


class _Bytes(BaseRenderer):
    """Stands for a media type while the form of the answer is agreed upon; the bytes go by themselves."""

    charset = None
    render_style = "binary"

    def __init__(self, media_type: str) -> None:
        self.media_type = media_type
        self.format = media_type.rpartition("/")[2]
