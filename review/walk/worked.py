"""What one set-up has to work out again and again of the same numbers, worked out once."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

import numpy as np

from review.interface.measure import FloatArray
from review.physics.columns import alike

#: Of more columns that differ than this only the last that were asked are kept, for the passes of a
#: step: hardly any comes again later, and what is kept would grow with the runs.
MOST = 64


@dataclass(slots=True)
class Worked:
    """Results of functions of columns of numbers, by the bits of each column.

    Runs, steps and chunks mostly agree in them to the last bit.
    """

    _found: dict[tuple[Hashable, bytes], FloatArray] = field(default_factory=dict)
    _last: dict[Hashable, tuple[bytes, FloatArray]] = field(default_factory=dict)

    def of(
        self, what: Hashable, rows: FloatArray, function: Callable[[FloatArray], FloatArray]
    ) -> FloatArray:
        """``function(rows)``, of (rows, runs), each column that differs worked out once.

        `what` names all else that the results hang on; they are (results, runs), each of its run
        alone.
        """
        first, kind = alike(rows)
        some = rows[:, first]
        if not first.size:
            return function(some)
        if first.size > MOST:
            last = self._last.get(what)
            if last is None or last[0] != rows.tobytes():
                last = self._last[what] = rows.tobytes(), function(some)[:, kind]
            return last[1].copy()
        asked = [(what, column.tobytes()) for column in some.T]
        new = [n for n, column in enumerate(asked) if column not in self._found]
        if new:
            found = function(some[:, new])
            self._found |= {asked[n]: found[:, m] for m, n in enumerate(new)}
        return np.array([self._found[column] for column in asked]).T[:, kind]
