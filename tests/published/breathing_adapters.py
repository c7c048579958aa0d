"""Questions about breathing air, put to the whole check: each builds a scenario and reviews it.

Published rows name these as ``breathing_adapters.NAME``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

from review import Engine, Review, loads
from review.reference.data import for_exposure
from tests.support import shared_engine


@cache
def _engine() -> Engine:
    return shared_engine()


def _review(
    releases: Mapping[str, str],
    steps: Sequence[float],
    settings: Sequence[Mapping[str, str]],
    ventilation: str,
    to: str,
    ambient: float,
    upsets: bool,
) -> Review:
    """Pure gases let out at one outlet; `steps` in seconds with what each sets."""
    reagents = "".join(f"  {s}: {{state: gas, composition: {{{s}: 100 %}}}}\n" for s in releases)
    flows = "".join(
        f"  {s}: {{reagent: {s}, into: tube, rate: {rate}, reference: ambient}}\n"
        for s, rate in releases.items()
    )
    procedure = "".join(
        f"  - {{step: s{n}, duration: {seconds!r} s, flows: {{"
        + ", ".join(f"{name}: {value}" for name, value in said.items())
        + "}}\n"
        for n, (seconds, said) in enumerate(zip(steps, settings, strict=True), 1)
    )
    text = (
        f"title: what people breathe\nduration: {sum(steps)!r} s\n"
        f"ambient: {{temperature: {ambient} degC, pressure: 1 atm}}\n"
        f"reagents:\n{reagents}flows:\n{flows}"
        "train:\n"
        "  - {id: tube, kind: line, inner_diameter: 20 mm, length: 100 mm}\n"
        f"  - {{id: out, kind: outlet, to: {to}}}\n"
        f"ventilation: {ventilation}\nprocedure:\n{procedure}"
    )
    return _engine().review(loads(text), upsets=upsets)


def _value(review: Review, kind: str, of: str, cell: int, run: str = "plan") -> float:
    (found,) = [m for m in review.measures if (m.kind, m.of) == (kind, of)]
    column = [r.id for r in review.trials.runs].index(run)
    return float(found.value[cell, column])


def peak(
    substance: str,
    rate: str,
    volume: float,
    airflow: float,
    seconds: float = 28800.0,
    mixing_factor: float | None = None,
    radius: float | None = None,
    air_speed: float | None = None,
    ambient: float = 25.0,
    then: Sequence[float] = (),
    lost: bool = False,
) -> float:
    """Peak of a substance in the breathing zone, mole fraction.

    In the last of the steps: `seconds` of release, then steps without; or with the ventilation
    lost from the first step on. airflow in m3/s.
    """
    fields = [f"room_volume: {volume} m3", f"air_changes: {airflow / volume * 3600!r} / hour"]
    if mixing_factor is not None:
        fields.append(f"mixing_factor: {mixing_factor}")
    if radius is not None:
        fields.append(f"near_field_radius: {radius} m")
    if air_speed is not None:
        fields.append(f"air_speed: {air_speed} m/s")
    settings = [{substance: "on"}, *({substance: "off"} for _ in then)]
    review = _review(
        {substance: rate}, [seconds, *then], settings, "{" + ", ".join(fields) + "}", "room",
        ambient, lost,
    )  # fmt: skip
    run = "ventilation lost:s1" if lost else "plan"
    return _value(review, "exposure.concentration", substance, len(settings), run)


def hood(substance: str, rate: str, face_velocity: float, tested: str = "yes") -> float:
    """Peak in front of a hood, or in the near field if it earns nothing, mole fraction."""
    ventilation = (
        "{room_volume: 100000 m3, air_changes: 100 / hour, hood: "
        f"{{face_velocity: {face_velocity} m/s, tested: {tested}}}}}"
    )
    review = _review(
        {substance: rate}, [600.0], [{substance: "on"}], ventilation, "hood", 25.0, False
    )
    return _value(review, "exposure.concentration", substance, 1)


def additive_index(contents: Mapping[str, float]) -> float:
    """Additive index of substances held at these contents (mole fraction) for 8 hours.

    1000 m3/s of air through 1 m3, so that all of it is settled within milliseconds.
    """
    share = 1.0 - sum(contents.values())
    rates = {s: f"{1000.0 * c / share!r} m3/s" for s, c in contents.items()}
    review = _review(
        rates, [28800.0], [dict.fromkeys(rates, "on")],
        "{room_volume: 1 m3, air_changes: 3600000 / hour, mixing_factor: 1}", "room", 25.0, False,
    )  # fmt: skip
    return _value(review, "exposure.additive_index", "", 1)


def eight_hours(substance: str, hours: Sequence[float], contents: Sequence[float]) -> float:
    """8-hour average over the limit of contents (mole fraction) held for some hours each."""
    settings = [{substance: f"{1000.0 * c / (1.0 - c)!r} m3/s"} for c in contents]
    review = _review(
        {substance: "1 L/min"}, [3600.0 * h for h in hours], settings,
        "{room_volume: 1 m3, air_changes: 3600000 / hour, mixing_factor: 1}", "room", 25.0, False,
    )  # fmt: skip
    return _value(review, "exposure.eight_hour_ratio", substance, len(settings))


def displaced_oxygen(substance: str, rate: str, seconds: float, volume: float) -> float:
    """Least oxygen in a mixed room without fresh air after a steady release, mole fraction."""
    review = _review(
        {substance: rate}, [seconds], [{substance: "on"}],
        f"{{room_volume: {volume} m3, air_changes: 0 / hour, mixing_factor: 1}}", "room", 25.0,
        False,
    )  # fmt: skip
    return _value(review, "oxygen.low", "", 1)


def cylinder(
    composition: str, cylinder_litres: float, bar: float, room: float, kind: str, of: str = ""
) -> float:
    """A measure of a whole cylinder (pressure in bar absolute) let go into a room, m3."""
    text = (
        "title: a cylinder in a room\n"
        f"reagents: {{gas: {{state: gas, composition: {{{composition}}}, held: {{as: cylinder, "
        f"volume: {cylinder_litres} L, pressure: {bar} bar absolute}}}}}}\n"
        "train:\n  - {id: out, kind: outlet, to: room}\n"
        f"ventilation: {{room_volume: {room} m3}}\n"
    )
    return _value(_engine().review(loads(text), upsets=False), kind, of, 0)


def acute(substance: str, level: str, minutes: float) -> float:
    """An acute exposure level at a time of exposure, mole fraction."""
    datum = _engine().reference.substance(substance).datum(level)
    return float(for_exposure(datum, 60.0 * minutes))
