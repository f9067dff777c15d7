"""Loaded before Django's settings: the suite keeps its files in a folder away from a running demo."""

import atexit
import os
import shutil
import tempfile

if "HOURMARK_TEST_DATA" not in os.environ:
    _folder = tempfile.mkdtemp(prefix="hourmark-test-")
    os.environ["HOURMARK_TEST_DATA"] = _folder  # handed on to the workers of a parallel run
    atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["HOURMARK_DATA"] = os.environ["HOURMARK_TEST_DATA"]
os.environ["HOURMARK_ENV"] = "demo"
os.environ["HOURMARK_SILENCE_SECONDS"] = "1000000"  # no worker or beat runs beside the suite
os.environ["HOURMARK_REQUESTS_A_MINUTE"] = "1000000"  # some tests stop the clock, and the minute with it
