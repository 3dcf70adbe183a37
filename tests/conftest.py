"""What several test modules share."""

from __future__ import annotations

import warnings
from types import ModuleType

import pytest
from hypothesis import settings

# How long an example takes says more of the machine than of the code; speed lives in tests/bench.
settings.register_profile("wbplan", deadline=None)
settings.load_profile("wbplan")


@pytest.fixture(scope="session")
def colour() -> ModuleType:
    """colour-science, the reference library, which warns of every optional package it misses."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour
