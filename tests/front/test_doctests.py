"""Every public name has an example in its docstring that runs and gives what it says."""

from __future__ import annotations

import doctest
import sys

import numpy as np
import pytest

import wbplan

FINDER = doctest.DocTestFinder(recurse=False, exclude_empty=True)
# What is raised is shown where it is raised: in the example of `find_light`.
NEEDS_NONE = {"__version__", "InputError", "OutputError", "WbplanError"}


@pytest.mark.parametrize("name", sorted(set(wbplan.__all__) - NEEDS_NONE))
def test_the_example_runs(name: str) -> None:
    value = getattr(wbplan, name)
    (found,) = FINDER.find(value, name, module=sys.modules[value.__module__], globs={})
    assert found.examples, f"wbplan.{name} has no example"
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    with np.printoptions(legacy=False):  # colour-science, once imported, prints as numpy 1.13 did
        result = runner.run(found, out=said.append)
    assert result.failed == 0, "".join(said)
