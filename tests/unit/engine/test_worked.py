"""What comes again in the same numbers is worked out once, and never taken for something else."""

from __future__ import annotations

import numpy as np

from review.walk.worked import MOST, Worked


def test_each_column_is_worked_out_once() -> None:
    asked: list[list[float]] = []

    def twice(rows):
        asked.append(rows[0].tolist())
        return 2 * rows

    worked = Worked()
    first = worked.of("twice", np.array([[1.0, 3.0, 1.0], [5.0, np.nan, 5.0]]), twice)
    second = worked.of("twice", np.array([[3.0, 1.0, 1.0], [np.nan, 5.0, 6.0]]), twice)
    np.testing.assert_array_equal(first, [[2, 6, 2], [10, np.nan, 10]])
    np.testing.assert_array_equal(second, [[6, 2, 2], [np.nan, 10, 12]])
    assert asked == [[1, 3], [1]]  # of the second only the column that is new


def test_another_question_has_another_answer() -> None:
    worked, rows = Worked(), np.array([[1.0, 2.0]])
    assert worked.of("twice", rows, lambda r: 2 * r).tolist() == [[2, 4]]
    assert worked.of("thrice", rows, lambda r: 3 * r).tolist() == [[3, 6]]


def test_zeros_of_either_sign_differ() -> None:
    found = Worked().of("sign", np.array([[0.0, -0.0]]), lambda r: np.copysign(1.0, r))
    assert found.tolist() == [[1, -1]]


def test_of_many_that_differ_only_the_last_are_kept() -> None:
    worked, many = Worked(), np.arange(MOST + 1.0)[None]
    calls = []
    for asked in (many, many, many + 1, many):
        found = worked.of("half", asked, lambda r: calls.append(1) or r / 2)
        np.testing.assert_array_equal(found, asked / 2)
    assert len(calls) == 3
