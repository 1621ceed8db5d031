"""What all tests share: no test judges a time, which hypothesis does by default (200 ms a case)."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
