"""Credit for active safeguards: upsets that are played again with one, and whether it suffices.

A safeguard is adequate where the measure that its run names is trusted and at least the ruleset's
limit `safeguards.margin`: how many times over it is quick enough, or large enough. Without that
limit nothing is credited.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from review.interface.measure import OK
from review.interface.plugin import worst_first
from review.interface.result import Run
from review.judge.grading import TOLERABLE, Codes, graded
from review.judge.ruleset import Criterion, Ruleset
from review.judge.stacks import Stack, Stacks

MARGIN = "safeguards.margin"


class Credit:
    """What adequate safeguards are worth in one review."""

    def __init__(self, stacks: Stacks, ruleset: Ruleset) -> None:
        self._stacks = stacks
        limit = ruleset.limits.get(MARGIN)
        self._least = math.inf if limit is None else limit.value
        self._runs = [run for run in stacks.trials.runs if run.counters]
        self._adequate: dict[str, tuple[bool, str]] = {}

    def applied(self, criterion: Criterion, stack: Stack, codes: Codes) -> Codes:
        """Grades of upsets once adequate active safeguards count; at best tolerable.

        The run with the safeguard is graded by the same bands; what it comes to at worst replaces
        the grades of the run without it where they are graver.
        """
        if not self._adequate_ones:
            return codes
        codes, kind = codes.copy(), self._stacks.kinds[criterion.kind]
        for run, own, here in self._adequate_ones:
            if run.in_time_for and not criterion.id.startswith(run.in_time_for):
                continue
            # Revealed before anything is switched: nothing is left to judge.
            with_it = np.full(len(codes), TOLERABLE, dtype=codes.dtype) if not own.size else graded(
                kind, criterion.bands["upset"], criterion.floor,
                stack.value[:, own], stack.status[:, own],
            ).max(axis=1)  # fmt: skip
            best = np.maximum(with_it, np.int8(TOLERABLE))[:, None]
            codes[:, here] = np.minimum(codes[:, here], best)
        return codes

    @cached_property
    def _adequate_ones(self) -> list[tuple[Run, NDArray[np.intp], NDArray[np.intp]]]:
        """Each run whose safeguard is adequate, its columns, and which columns of all upsets are
        those of the one that it counters."""
        stacks = self._stacks
        runs = stacks.columns["upset"] // stacks.cells
        return [
            (run, stacks.run_columns(run), np.flatnonzero(runs == stacks.index[run.counters]))
            for run in self._runs if self.adequacy(run)[0]
        ]  # fmt: skip

    def adequacy(self, run: Run) -> tuple[bool, str]:
        """Whether the safeguard of a run is adequate for the upset it counters, and why not."""
        known = self._adequate.get(run.id)
        if known is None:
            known = self._adequate[run.id] = self._weighed(run)
        return known

    def _weighed(self, run: Run) -> tuple[bool, str]:
        if run.adequacy is None:
            return False, "nothing shows that it is adequate"
        (kind, at), stacks = run.adequacy, self._stacks
        other = stacks.index.get(run.counters)
        if kind not in stacks.by_kind or other is None:
            return False, f"no measure of {kind}"
        stack = stacks.at(kind, at)
        if not stack.measures:
            return False, f"no measure of {kind} at {at}"
        columns = stacks.run_columns(stacks.trials.runs[other])[:1]
        value, status = stack.value[:, columns], stack.status[:, columns]
        if (status != OK).any():
            said = stack.measures[0].note
            return False, said or "how long it has, or how much it must take, is not known"
        hazard = worst_first(stacks.kinds[kind], value) if kind in stacks.kinds else -value
        least = float(-hazard.max())
        if not least >= self._least:
            share = self._least / least if least > 0 else math.inf
            short = f"by a factor of {share:.3g}" if math.isfinite(share) else "altogether"
            return False, f"it is too slow or too small {short}"
        return True, ""

    def said(self, run_id: str) -> str:
        """Which safeguards counter an upset, and why one of them earns no credit."""
        told = []
        for run in self._runs:
            if run.counters == run_id:
                adequate, why = self.adequacy(run)
                told.append(run.title if adequate else f"{run.title}: no credit, {why}")
        return "; ".join(told)
