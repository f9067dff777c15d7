"""Photos, to the members of the organisation they belong to."""

from pathlib import PurePosixPath

from django.core.exceptions import SuspiciousFileOperation
from django.core.files.storage import default_storage
from django.http import FileResponse, Http404
from django.views.decorators.http import require_safe

from fleet.web.guards import MemberRequest, members_only

IMAGES = {
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".png": "image/png",
    ".webp": "image/webp",
}


@require_safe
@members_only
def photo(request: MemberRequest, path: str) -> FileResponse:
    """Send a photo whose path begins with the id of the member's organisation; 404 for anything else."""
    parts = path.split("/")
    kind = IMAGES.get(PurePosixPath(path).suffix.lower())
    plain = all(part and not part.startswith(".") for part in parts) and not {"\\", "\0"} & set(path)
    if not plain or kind is None or len(parts) < 2 or parts[0] != str(request.organisation.pk):
        raise Http404
    try:
        file = default_storage.open(path)
    except (OSError, SuspiciousFileOperation):
        raise Http404 from None
    answer = FileResponse(file, content_type=kind)
    answer["Content-Disposition"] = "inline"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer
