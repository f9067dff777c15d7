"""What the whole suite shares."""

pytest_plugins = ["tests.cast"]
