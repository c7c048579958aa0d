"""Names that one check gives and another reads: of measures, limits and places."""

from __future__ import annotations

#: Measure: what burns here is cold, with nothing near to light it, and has a rule of its own.
STILL = "flammability.cold_vapour"
#: Measure: content of the air that people breathe.
CONTENT = "exposure.concentration"
#: Measure: 1 where an instrument or bubbler shows the flow that a step waits for.
SHOWN_KIND = "readiness.hold_shown"
#: Measure: time until liquid comes to what is hot over the time to lift a line out of it.
LIFT_KIND = "readiness.lift_margin"
#: Measure: people who are there when a regulator fails.
HEARD_KIND = "readiness.heard"
#: Limits of the envelope and of an after-burn.
LEAN_SHARE = "flammability.lean_share"
INERT_HIGH = "flammability.inert_share_high"
INERT_LOW = "flammability.inert_share_low"
AFTER_BURN_RISE = "ignition.after_burn_rise"
#: Place of what people breathe.
WHERE = "breathing zone"
#: Why nothing can be said of what a generator's charge may do at once.
UNWEIGHED = "the mass, or amount and density, of what makes it, which the file does not state"
