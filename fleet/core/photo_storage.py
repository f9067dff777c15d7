"""Where photos are kept: in the media folder, and a disk that is full is said in words."""

import errno
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.core.files.storage import FileSystemStorage
from django.utils.translation import gettext as _

from fleet.core.errors import NoRoom

FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


class PhotoStorage(FileSystemStorage):
    """A folder that leaves no half of a file behind where there is no room for the whole.

    Raises NoRoom on `photo`: what came with the photo is right, and can be sent again.
    """

    def _save(self, name: str, content: Any) -> str:
        try:
            return super()._save(name, content)  # type: ignore[misc]  # not in the stubs
        except OSError as error:
            if error.errno not in FULL:
                raise
            with suppress(OSError):
                Path(self.path(name)).unlink(missing_ok=True)
            raise NoRoom(
                _("There is no room to keep the photo just now. Save without it, or send it again later."),
                field="photo",
            ) from error
