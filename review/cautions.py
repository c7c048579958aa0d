"""What every output says of itself, whatever the verdict."""

from __future__ import annotations

#: Short paragraphs, in the order they are printed.
CAUTIONS: tuple[str, ...] = (
    "This review compares the figures of one scenario file with published limits. It helps a "
    "competent person decide; it is not a permit, an approval or a certificate.",
    "'May proceed' means only that none of the checks listed here speaks against the run. Dangers "
    "that no check covers, and dangers that the scenario does not describe, remain.",
    "Local codes, the authority having jurisdiction and licensed practice come first. Where they "
    "ask for more than this review, or forbid the run, they hold.",
    "Before the run, a second competent person should compare the set-up on the bench with the "
    "scenario and with this review.",
    "The numbers depend on the figures given. A wrong or forgotten figure makes them wrong, and "
    "the review cannot notice.",
    "If the set-up or its behaviour differs from the scenario, stop the run as planned beforehand, "
    "and review again before going on.",
    "In an emergency, use the emergency numbers and the procedure of your site.",
)

#: The same in brief, for a letter that has the room for no more.
IN_BRIEF: tuple[str, ...] = (
    "'May proceed' would mean only that no check here speaks against the run. Local codes, the "
    "authority having jurisdiction and licensed practice come first. A second competent person "
    "compares bench and file before the run. If anything differs from the file, stop and review "
    "again. In an emergency, use the numbers and the procedure of your site.",
)

#: The one line for outputs that judge nothing, such as lists.
DEFERS = CAUTIONS[2]
