"""How large a file a page takes, held while it streams in: more of it reaches neither memory nor disk."""

from typing import Any

from django.conf import settings
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest

# Beside its file a form sends some lines of text.
FORM_BESIDE = 100_000


class MeasuredUpload(FileUploadHandler):
    """Lets go of a file as soon as it is larger than the page takes, and says so on the request.

    A view says how many bytes it takes by an attribute `most_upload`, else it is `settings.MOST_UPLOAD`. Its
    form then sees no file, and `request.upload_too_large`. What the browser states is believed when it is too
    much already, and what really arrives is counted.
    """

    def __init__(self, request: HttpRequest | None = None) -> None:
        super().__init__(request)
        self.most = settings.MOST_UPLOAD
        self.arrived = 0
        self.is_refused = False

    def handle_raw_input(
        self,
        input_data: Any,
        META: dict[str, Any],  # noqa: N803
        content_length: int,
        boundary: bytes,
        encoding: str | None = None,
    ) -> None:
        match = getattr(self.request, "resolver_match", None)
        self.most = getattr(match.func, "most_upload", self.most) if match else self.most
        self.is_refused = content_length > self.most + FORM_BESIDE

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self.arrived = 0
        if self.is_refused:
            self._let_go()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        self.arrived += len(raw_data)
        if self.arrived > self.most:
            self._let_go()
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None

    def _let_go(self) -> None:
        self.request.upload_too_large = True
        raise SkipFile
