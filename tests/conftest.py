"""What several test modules share."""

from __future__ import annotations

import warnings
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def colour() -> ModuleType:
    """colour-science, the reference library, which warns of every optional package it misses."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour
