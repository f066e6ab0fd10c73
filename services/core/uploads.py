"""Files that come in: how large a request with one may be, asked before any of it is read."""

from typing import Any, Final

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import MemoryFileUploadHandler

MOST_WITH_A_FILE: Final = 2_200_000
"""Bytes of a request that carries a file, with its own form. What a file may be is its reader's to say."""


class Bounded(MemoryFileUploadHandler):
    """Keeps a file in memory, and refuses a request that says it is larger than MOST_WITH_A_FILE.

    No server passes on more than a request says it has.
    """

    def handle_raw_input(
        self, input_data: Any, META: Any, content_length: int, boundary: Any, encoding: Any = None
    ) -> None:
        """Raises RequestDataTooBig."""
        if content_length > MOST_WITH_A_FILE:
            raise RequestDataTooBig
        super().handle_raw_input(input_data, META, content_length, boundary, encoding)
