"""Heat to and from walls: natural convection, radiation, fins, and gas along a cooling line."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number
from review.physics.air import AIR_PRANDTL, air_conductivity, air_rayleigh
from review.physics.columns import alike

#: Stefan-Boltzmann constant, W/(m2 K4) (CODATA 2018).
STEFAN_BOLTZMANN = 5.670374419e-8


def churchill_chu_horizontal_cylinder(rayleigh: ArrayLike, prandtl: ArrayLike) -> FloatArray:
    """Nusselt number of free convection about a long horizontal cylinder, on the diameter.

    Nu = {0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}^2

    rayleigh (diameter), prandtl; any shapes that broadcast.
    Valid: Ra 1e-5 to 1e12; data scatter by about 20 %.

    >>> f"{churchill_chu_horizontal_cylinder(0.69 * 2.63e9, 0.69):.4f}"
    '139.1349'

    Source: [1] Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049.
    """
    correction = (1 + (0.559 / number(prandtl)) ** (9 / 16)) ** (8 / 27)
    return number((0.60 + 0.387 * number(rayleigh) ** (1 / 6) / correction) ** 2)


def radiation_coefficient(
    emissivity: ArrayLike, surface_temperature: ArrayLike, ambient_temperature: ArrayLike
) -> FloatArray:
    """Coefficient of a small grey surface radiating to large surroundings, W/(m2 K).

    h = eps sigma (Ts^2 + Ta^2) (Ts + Ta)

    emissivity eps; surface_temperature Ts, ambient_temperature Ta K; any shapes that broadcast.
    Valid: surroundings much larger than the surface.

    >>> f"{radiation_coefficient(0.85, 400.0, 305.0) * 95:.2f}"
    '816.78'

    Source: [1] Stefan-Boltzmann law.
    """
    ts, ta = number(surface_temperature), number(ambient_temperature)
    return number(emissivity) * STEFAN_BOLTZMANN * (ts**2 + ta**2) * (ts + ta)


#: Least heat that a volume of wall holds, J/(m3 K): fused quartz, 2200 kg/m3 times 740 J/(kg K)
#: (makers' sheets, from memory); borosilicate glass 1.85e6, metals more.
LEAST_WALL = 1.6e6
#: Most that still and draughty air takes from a hot wall without radiation, W/(m2 K): natural
#: convection on a tube of 15 mm that is 400 K hotter gives 12 (a judgement, no source).
MOST_CONVECTION = 20.0


def wall_cooling_time(
    thickness: ArrayLike,
    hot: ArrayLike,
    ambient: ArrayLike,
    capacity: ArrayLike = LEAST_WALL,
    convection: ArrayLike = MOST_CONVECTION,
    emissivity: ArrayLike = 1.0,
) -> FloatArray:
    """Time constant with which a thin wall cools that nothing hot surrounds, s.

    tau = c s / (h + eps sigma (T^2 + Ta^2) (T + Ta))

    thickness s m; hot T, ambient Ta K; capacity c J/(m3 K); convection h W/(m2 K); emissivity eps;
    any shapes that broadcast. Valid: lumped (h s small against the wall's conductivity), cooled
    from one side. With the figures that stand by default it cools no faster than that.

    >>> f"{wall_cooling_time(1e-3, 773.15, 293.15):.0f}"
    '26'

    Source: [1] Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, section 5.1.
    """
    loses = number(convection) + radiation_coefficient(emissivity, hot, ambient)
    return number(number(capacity) * number(thickness) / loses)


def outer_coefficient(
    surface_temperature: ArrayLike,
    ambient_temperature: ArrayLike,
    diameter: ArrayLike,
    emissivity: ArrayLike,
) -> FloatArray:
    """Coefficient outside a bare horizontal tube in still air, W/(m2 K).

    h = Nu lambda / d + eps sigma (Ts^2 + Ta^2) (Ts + Ta), Nu by Churchill-Chu at film temperature

    surface_temperature Ts, ambient_temperature Ta K; diameter d m (outer); emissivity; any shapes
    that broadcast. Valid: still air near 1 atm, film 100 to 1000 K; convection scatters by 20 %.
    A low coefficient is the hot side: use the lowest emissivity and, where one value must serve a
    whole line, its coolest surface.

    >>> f"{outer_coefficient(373.15, 293.15, 0.02, 0.9):.1f}"
    '16.2'

    Source: [1] Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049;
    [2] U.S. Standard Atmosphere, 1976, for air.
    """
    ts, ta, d = number(surface_temperature), number(ambient_temperature), number(diameter)
    nusselt = churchill_chu_horizontal_cylinder(air_rayleigh(ts, ta, d), AIR_PRANDTL)
    convection = nusselt * air_conductivity((ts + ta) / 2) / d
    return convection + radiation_coefficient(emissivity, ts, ta)


#: Data on free convection scatter by 20 % about Churchill and Chu; the low end is the hot side.
CONVECTION_SHARE = 0.8


def still_air(
    surface: ArrayLike, ambient: ArrayLike, diameter: ArrayLike, emissivity: ArrayLike
) -> FloatArray:
    """The low end of `outer_coefficient`, W/(m2 K): its convection less the scatter of the data.

    surface, ambient K; diameter m (outer); emissivity; any shapes that broadcast.
    Valid: as `outer_coefficient`. Low is the hot side.

    >>> f"{still_air(373.15, 293.15, 0.02, 0.9):.1f}"
    '14.5'

    Source: [1] Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, less its scatter.
    """
    radiation = radiation_coefficient(emissivity, surface, ambient)
    convection = outer_coefficient(surface, ambient, diameter, emissivity) - radiation
    return np.asarray(CONVECTION_SHARE * convection + radiation)


def fin_temperature(
    distance: ArrayLike,
    base: ArrayLike,
    ambient: ArrayLike,
    coefficient: ArrayLike,
    perimeter: ArrayLike,
    conductivity: ArrayLike,
    area: ArrayLike,
    length: ArrayLike = np.inf,
) -> FloatArray:
    """Temperature along a fin (a tube wall, a rod) without gas inside, K.

    T = Ta + (Tb - Ta) cosh m(L - x) / cosh m L, m = sqrt(h P / (k A));
    exp(-m x) in place of the ratio where the fin is endless

    distance x m from the base; base Tb, ambient Ta K; coefficient h W/(m2 K); perimeter P m that
    loses heat; conductivity k W/(m K); area A m2 of the conducting section; length L m, its end
    losing nothing (the hot side); any shapes that broadcast.
    Valid: thin section (h A/(P k) below 0.1), constant h, no gas flow: with flow it reads far too
    cold, see `cooling_line`.

    >>> f"{fin_temperature(0.05, 873.15, 293.15, 15.0, 0.0754, 1.4, 2.07e-4):.1f}"
    '318.7'

    Source: [1] Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, chapter 3, Table 3.4.
    """
    x, ta, end = number(distance), number(ambient), number(length)
    conductance = number(conductivity) * number(area)
    m = np.sqrt(number(coefficient) * number(perimeter) / conductance)
    with np.errstate(invalid="ignore"):
        to_end = np.where((m == 0) & np.isinf(end), 0.0, m * end)
        ratio = (np.exp(-m * x) + np.exp(-np.maximum(2 * to_end - m * x, m * x))) / (
            1 + np.exp(-2 * to_end)
        )
    ratio = np.where(m == 0, 1.0, ratio)
    return keep_nan(ta + (number(base) - ta) * ratio, m, end, x)


def _real_roots(
    a: FloatArray, b: FloatArray, c: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Roots r1 < -a < r2 <= 0 < r3 of r^3 + a r^2 - (b + c) r - a b, a, b, c not negative.

    The cubic is negative at 0 and positive at -a, so that all three roots are real. The
    trigonometric roots lose digits where the three differ by orders of magnitude; Newton's steps
    restore them.
    """
    scale = np.maximum(a, np.sqrt(b + c))
    scale = np.where(scale > 0, scale, 1.0)
    p2, p1, p0 = a / scale, -(b + c) / scale**2, -a * b / scale**3
    spread = np.sqrt(np.maximum(p2**2 - 3 * p1, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        cosine = (-2 * p2**3 + 9 * p2 * p1 - 27 * p0) / (2 * spread**3)
    angle = np.arccos(np.clip(cosine, -1.0, 1.0)) / 3
    roots = []
    for turn in (2 * np.pi / 3, 4 * np.pi / 3, 0.0):
        root = (2 * spread * np.cos(angle + turn) - p2) / 3
        for _ in range(4):
            slope = (3 * root + 2 * p2) * root + p1
            value = ((root + p2) * root + p1) * root + p0
            root = root - np.where(slope == 0, 0.0, value / np.where(slope == 0, 1.0, slope))
        roots.append(root * scale)
    return roots[0], np.minimum(roots[1], 0.0), roots[2]


def cooling_line(
    distance: ArrayLike,
    length: ArrayLike,
    gas_in: ArrayLike,
    wall_in: ArrayLike,
    ambient: ArrayLike,
    gas_capacity_flow: ArrayLike,
    inner_coefficient: ArrayLike,
    inner_perimeter: ArrayLike,
    outer_coefficient: ArrayLike,
    outer_perimeter: ArrayLike,
    wall_conductivity: ArrayLike,
    wall_area: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Gas and wall temperature along a line that leaves a hot zone, K.

    dTg/dx = a (Tw - Tg), Tw'' = b (Tw - Ta) - c (Tg - Tw)
    a = hi Pi / C, b = ho Po / (k A), c = hi Pi / (k A); Tg(0), Tw(0) given, Tw'(L) = 0
    Tg - Ta = sum_i A_i exp(r_i x), Tw - Ta = sum_i A_i (1 + r_i/a) exp(r_i x),
    r_i the roots of r^3 + a r^2 - (b + c) r - a b = 0

    distance x m from the hot zone (held within 0 … length); length L m; gas_in, wall_in at x = 0,
    ambient Ta K; gas_capacity_flow C = m' cp W/K; inner_coefficient hi, outer_coefficient ho
    W/(m2 K); inner_perimeter Pi, outer_perimeter Po m; wall_conductivity k W/(m K); wall_area A m2
    of the conducting section; any shapes that broadcast. Returns (gas, wall).
    Without flow the wall is the plain fin and the gas is as hot as the wall.
    Valid: constant coefficients, finite length, k A above 0, gas much faster than heat conducts in
    it. The far end loses nothing (the hot side); take hi for laminar flow and ho at a cool
    surface, both low.

    >>> gas, wall = cooling_line(0.05, 0.3, 873.15, 873.15, 293.15, 0.104, 9.0, 0.0628,
    ...                          15.0, 0.0754, 1.4, 2.07e-4)
    >>> bool(gas > wall > 293.15)
    True

    Source: [1] coupled energy balances of gas and wall, solved in closed form; the wall alone is
    the fin of Incropera & DeWitt, chapter 3.
    """
    ends = number(length)
    x = np.minimum(np.maximum(number(distance), 0.0), ends) / ends
    ta = number(ambient)
    gas0, wall0 = number(gas_in) - ta, number(wall_in) - ta
    flow = np.abs(number(gas_capacity_flow))
    exchange = number(inner_coefficient) * number(inner_perimeter)
    conductance = number(wall_conductivity) * number(wall_area)

    # Distances in units of the length. A vanishing flow makes `a` endless while c/a = C L/(k A)
    # stays finite; holding `a` at 1e8 of the other scales leaves the answer as it is.
    b = number(outer_coefficient) * number(outer_perimeter) * ends**2 / conductance
    carried = flow * ends / conductance
    largest = 1e8 * np.maximum(np.maximum(1.0, np.sqrt(b)), carried)
    with np.errstate(divide="ignore", invalid="ignore"):
        a = np.minimum(np.where(exchange == 0, 0.0, exchange * ends / flow), largest)
    # Without any exchange gas and wall go their own ways; a trace of it keeps the form regular.
    a = np.maximum(a, 1e-12)
    a, b, c = np.broadcast_arrays(a, b, a * carried)

    r1, r2, r3 = _real_roots(a, b, c)
    w1 = (b * (r1 + a) + c * r1) / (a * r1**2)
    w2, w3 = 1 + r2 / a, 1 + r3 / a
    e1, e2, e3 = np.exp(r1), np.exp(r2), np.exp(-r3)

    # The third coefficient is scaled by exp(r3), so that only falling exponentials are taken.
    end1, end2, end3 = w1 * r1 * e1, w2 * r2 * e2, w3 * r3
    m11, m12, right1 = w2 - w1, e3 * (w3 - w1), wall0 - w1 * gas0
    m21, m22, right2 = end2 - end1, end3 - end1 * e3, -gas0 * end1
    determinant = m11 * m22 - m12 * m21
    second = (right1 * m22 - m12 * right2) / determinant
    third = (m11 * right2 - m21 * right1) / determinant
    first = gas0 - second - third * e3
    terms = (first * np.exp(r1 * x), second * np.exp(r2 * x), third * np.exp(r3 * (x - 1)))
    wall = w1 * terms[0] + w2 * terms[1] + w3 * terms[2]
    gas = np.where(flow == 0, wall, terms[0] + terms[1] + terms[2])
    given = (x, gas0, wall0, flow, exchange, conductance)
    return keep_nan(ta + gas, *given), keep_nan(ta + wall, *given)


#: Slices along a bare end, and rounds in which the outside's loss follows the wall.
SLICES, ROUNDS = 24, 6


def entrance_nusselt(graetz: ArrayLike) -> FloatArray:
    """Mean Nusselt number of laminar flow from where its wall begins to cool it.

    Nu = 3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3)), Gz = d Re Pr / L

    graetz Gz; any shape. Valid: fully developed laminar flow, wall at one temperature; turbulent
    gas exchanges more, and stays hotter by this: the hot side for the gas.

    >>> f"{entrance_nusselt(0.0):.2f} {entrance_nusselt(100.0):.2f}"
    '3.66 7.25'

    Source: [1] Hausen (1943), in Incropera & DeWitt, Fundamentals of Heat and Mass Transfer,
    chapter 8.
    """
    gz = number(graetz)
    return 3.66 + 0.0668 * gz / (1 + 0.04 * gz ** (2 / 3))


def disk_view(distance: ArrayLike, diameter: ArrayLike) -> FloatArray:
    """Share of what a disk radiates that passes an equal coaxial disk.

    F = (X - sqrt(X^2 - 4)) / 2, X = 2 + (L/r)^2

    distance L, diameter m; any shapes that broadcast.

    >>> f"{disk_view(0.0, 0.02):.0f} {disk_view(0.01, 0.02):.3f}"
    '1 0.382'

    Source: [1] Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Table 13.2.
    """
    x = 2 + (2 * number(distance) / number(diameter)) ** 2
    return 2 / (x + np.sqrt(x**2 - 4))


def bare_end(
    length: ArrayLike,
    hot: ArrayLike,
    ambient: ArrayLike,
    gas_capacity_flow: ArrayLike,
    gas_conductivity: ArrayLike,
    bore: ArrayLike,
    outer_diameter: ArrayLike,
    wall_conductivity: ArrayLike,
    emissivity: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Gas and wall at the end of the bare piece that sticks out of a heated zone, K.

    k A Tw'' = ho(Tw) Po (Tw - Ta) - hi Pi (Tg - Tw) - q_r', C Tg' = hi Pi (Tw - Tg)
    Tg(0) = Tw(0) = Th, Tw'(L) = 0; hi by `entrance_nusselt`, ho by
    `still_air`, q_r what the zone as a black disk radiates along the bore (`disk_view`), all of it
    taken up by the wall, the rest at its very end.

    length L m; hot Th, ambient Ta K; gas_capacity_flow C W/K; gas_conductivity W/(m K); bore,
    outer_diameter m; wall_conductivity k W/(m K); emissivity of the outside, the lowest; any shapes
    that broadcast. Returns (gas, wall). Implicit slices, hot on the side of the gas.
    Valid: horizontal tube in still air near 1 atm, laminar gas. Turbulent gas cools faster.

    >>> gas, wall = bare_end(0.25, 1073.15, 293.15, 0.1, 0.05, 0.016, 0.02, 2.8, 0.9)
    >>> bool(1073.15 > gas > wall > 293.15)
    True

    Source: [1] energy balances of gas and wall; [2] Churchill & Chu (1975); [3] Hausen (1943).
    """
    given = [number(x) for x in (length, hot, ambient, gas_capacity_flow, gas_conductivity, bore,
                                 outer_diameter, wall_conductivity, emissivity)]  # fmt: skip
    shape = np.broadcast_shapes(*(x.shape for x in given))
    if len(shape) == 1:
        rows = np.array([np.broadcast_to(x, shape) for x in given])
        first, kind = alike(rows)
        if first.size < kind.size:
            gas, wall = bare_end(*rows[:, first])
            return gas[kind], wall[kind]
    end, th, ta, flow, k_gas, inner, outer, k_wall, eps = np.broadcast_arrays(*given)
    ends = np.where(end > 0, end, 1.0)
    step, flow = ends / SLICES, np.abs(flow)
    conductance = k_wall * np.pi / 4 * (outer**2 - inner**2) / step
    graetz = 4 * flow / (np.pi * k_gas * ends)
    exchange = entrance_nusselt(graetz) * k_gas * np.pi * step
    left = flow / (flow + exchange)
    radiated = STEFAN_BOLTZMANN * (th**4 - ta**4) * np.pi / 4 * inner**2
    reach = np.arange(SLICES + 1).reshape(-1, *(1,) * th.ndim) * step
    seen = disk_view(reach, inner)
    seen[-1] = 0.0
    wall = th - (th - ta) * reach[1:] / ends
    nothing = np.zeros_like(th)
    to_gas, kept = exchange * left, 1 - left
    for _ in range(ROUNDS):
        surface = np.maximum(wall, ta + 1.0)
        loss = still_air(surface, ta, outer, eps) * np.pi * outer * step
        source = loss * ta + radiated * (seen[:-1] - seen[1:])
        drawn = conductance + to_gas + loss
        heads: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        part, of_wall, of_gas, ahead = nothing, nothing, nothing, nothing
        for from_outside, own_draw in zip(source[::-1], drawn[::-1], strict=True):
            own = own_draw + ahead * (1 - of_wall - of_gas * kept)
            part = (from_outside + ahead * part) / own
            of_wall, of_gas = conductance / own, (to_gas + ahead * of_gas * left) / own
            heads.append((part, of_wall, of_gas))
            ahead = conductance
        gas = before = th
        for i, (part, of_wall, of_gas) in enumerate(reversed(heads)):
            wall[i] = before = part + of_wall * before + of_gas * gas
            gas = left * gas + kept * before
    short = end <= 0
    return (
        keep_nan(np.where(short, th, gas), *given),
        keep_nan(np.where(short, th, wall[-1]), *given),
    )
