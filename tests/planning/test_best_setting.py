"""The best setting for many positions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from wbplan.planning.best_setting import solve_balance

numbers = st.floats(-300, 300)


@given(
    st.lists(
        st.tuples(numbers, numbers, numbers, numbers, st.floats(0.1, 10)), min_size=1, max_size=6
    )
)
def test_closed_form_is_the_minimum(rows: list[tuple[float, ...]]) -> None:
    mired, cc, want_mired, want_cc, weight = np.array(rows).T
    found = solve_balance(mired, cc, want_mired, want_cc, weight)

    def cost(setting: np.ndarray) -> float:
        off = (mired - setting[0] - want_mired) ** 2 + 4 * (cc - setting[1] - want_cc) ** 2
        return float(weight @ off)

    best = minimize(cost, np.zeros(2)).fun  # scipy's search as the outside judge
    assert cost(np.array(found)) <= best + 1e-6 * max(1.0, best)


def test_no_weight_is_refused() -> None:
    with pytest.raises(ValueError, match="weight above 0"):
        solve_balance([1.0], [1.0], [0.0], [0.0], [0.0])
