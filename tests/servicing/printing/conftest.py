"""PDFs read back with poppler's tools, as a printer would see them."""

import shutil
import subprocess

import pytest


def tool(name):
    """Return a tool of poppler-utils; the test is skipped where there is none."""
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} (poppler-utils) is not installed")
    return found


@pytest.fixture
def read(tmp_path):
    def read(pdf: bytes, *more: str) -> str:
        file = tmp_path / "sheet.pdf"
        file.write_bytes(pdf)
        done = subprocess.run([tool("pdftotext"), *more, str(file), "-"], capture_output=True, check=True)
        return " ".join(done.stdout.decode().split())

    return read


@pytest.fixture
def about(tmp_path):
    def about(pdf: bytes) -> dict[str, str]:
        file = tmp_path / "sheet.pdf"
        file.write_bytes(pdf)
        done = subprocess.run([tool("pdfinfo"), str(file)], capture_output=True, check=True, text=True)
        return {
            key: value.strip() for key, _, value in (line.partition(":") for line in done.stdout.splitlines())
        }

    return about
