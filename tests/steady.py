"""Property tests that are the same in every run: a busy machine is no failure, and nothing hangs on luck.

`--hypothesis-profile=default` looks elsewhere.
"""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "steady", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("steady")
