"""Files that are sent, kept apart from others, and the machines they name."""

import pytest


@pytest.fixture
def kept_apart(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def machines(in_farm):
    return [in_farm.machine(tag=tag) for tag in ("T-01", "T-02")]
