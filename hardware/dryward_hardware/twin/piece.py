"""A piece of meat that dries: water spreads to its surface, the surface gives it to the air, the heat for it comes back.

One step is cut in two so that the chamber can solve its air in between and mass and energy still close exactly:
``ready`` answers how much water the piece will give as a straight line in the air's humidity, ``settle`` is told what
heat and water really passed. Temperatures are those of three shells: core, middle, surface.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, pi, sqrt

from dryward_hardware.ports import Hung
from dryward_hardware.twin.diffusion import NODES, Diffusion
from dryward_hardware.twin.moist_air import (
    AIR_J_PER_KGK,
    PRESSURE_PA,
    RATIO,
    VAPOUR_J_PER_KGK,
    WATER_J_PER_KGK,
    latent_j_per_kg,
    saturation_pa,
)
from dryward_hardware.twin.options import Meat

GAS_J_MOLK = 8.314
REFERENCE_K = 348.15  # 75 degC, where Meat.diffusivity_m2_s holds
SHELL_EDGES = (0.5, 0.8)  # of the radius or half thickness
LENGTH_PER_DIAMETER = (
    2.67  # of a piece whose thickness is not given: 750 g are 70 mm thick (common practice, no source)
)
NEWTON_STEPS, NEAR_K = 40, 0.3  # a surface in steady air needs one step; the rest is for one that boils
COLDEST_C = -100.0
SLAB_FROM = 6.0  # a rod this many times longer than thick is taken for a slab instead


@dataclass(frozen=True, slots=True)
class Shape:
    """Outer form of a piece: ``depth_m`` is its radius or half thickness, ``area_m2`` the surface that dries."""

    cylinder: bool
    depth_m: float
    area_m2: float


def shape_of(hung: Hung, meat: Meat) -> Shape:
    """Return the form that a piece of this weight and thickness has."""
    volume = hung.green_g / 1000.0 / meat.density_kg_m3
    if hung.thickness_mm is None:
        thickness = 2.0 * (volume / (2.0 * pi * LENGTH_PER_DIAMETER)) ** (1 / 3)
    else:
        thickness = hung.thickness_mm / 1000.0
    rod = volume / (pi / 4 * thickness**3)
    cylinder = meat.shape == "cylinder" or (meat.shape == "auto" and rod <= SLAB_FROM)
    return Shape(cylinder, thickness / 2, (4.0 if cylinder else 2.0) * volume / thickness)


class PieceBody:
    """A piece in the chamber or beside it."""

    __slots__ = (
        "_activation",
        "_d_ref",
        "_divisor",
        "_dry_j_k",
        "_floor",
        "_half",
        "_heat_back",
        "_joints",
        "_level",
        "_shares",
        "_wet",
        "_zones",
        "core_c",
        "give_at_zero",
        "give_fall",
        "green_g",
        "middle_c",
        "name",
        "shape",
        "surface_ahead_c",
        "surface_c",
        "water",
    )

    def __init__(self, hung: Hung, meat: Meat) -> None:
        self.name = hung.name
        self.green_g = hung.green_g
        self.shape = shape_of(hung, meat)
        green_kg = hung.green_g / 1000.0
        dry_kg = green_kg * (1.0 - meat.water_share)
        self._wet = meat.water_share / (1.0 - meat.water_share)
        self.water = Diffusion(
            cylinder=self.shape.cylinder, depth_m=self.shape.depth_m, dry_kg=dry_kg, moisture=self._wet
        )
        self._d_ref = meat.diffusivity_m2_s
        self._activation = meat.activation_j_mol / GAS_J_MOLK
        self._floor = meat.dry_share
        self._half = meat.half_activity_kg_kg**2
        self._dry_j_k = dry_kg * meat.dry_j_kgk
        self._zones = self._zone_lengths()
        self._shares, self._joints = self._shells(meat.conductivity_w_mk)
        self.core_c = self.middle_c = self.surface_c = self.surface_ahead_c = meat.start_c
        self.give_at_zero = self.give_fall = 0.0
        self._heat_back = (0.0, 0.0, 0.0, 0.0)
        self._level = 0.0
        self._divisor = 1.0

    @staticmethod
    def _zone_lengths() -> tuple[int, int, int]:
        """How many joints between water nodes lie in each shell."""
        last = NODES - 1
        middles = [1.0 - (1.0 - (k + 0.5) / last) ** 2 for k in range(last)]
        core = sum(place < SHELL_EDGES[0] for place in middles)
        middle = sum(SHELL_EDGES[0] <= place < SHELL_EDGES[1] for place in middles)
        return core, middle, last - core - middle

    def _shells(self, conductivity: float) -> tuple[tuple[float, float, float], tuple[float, float]]:
        """Volume shares of the three shells and the conductances between their middles, W/K."""
        a, b = SHELL_EDGES
        if self.shape.cylinder:
            shares = (a * a, b * b - a * a, 1.0 - b * b)
            at = (a / sqrt(2), sqrt((a * a + b * b) / 2), sqrt((1 + b * b) / 2))
            per = conductivity * self.shape.area_m2 / self.shape.depth_m
            return shares, (per / log(at[1] / at[0]), per / log(at[2] / at[1]))
        per = conductivity * self.shape.area_m2 / self.shape.depth_m
        return (a, b - a, 1.0 - b), (per / (b / 2), per / ((1.0 - a) / 2))

    @property
    def mass_g(self) -> float:
        """Present weight, g."""
        return 1000.0 * (self.water.dry_kg + self.water.water_kg)

    @property
    def heat_j_k(self) -> float:
        """Heat capacity, J/K."""
        return self._dry_j_k + WATER_J_PER_KGK * self.water.water_kg

    @property
    def mean_c(self) -> float:
        """Mean temperature, degC."""
        core, middle, surface = self._shares
        return core * self.core_c + middle * self.middle_c + surface * self.surface_c

    def activity(self) -> float:
        """Return the water activity of the surface, 0..1 (Oswin isotherm, exponent one half)."""
        x2 = self.water.moisture[-1] ** 2
        return x2 / (self._half + x2)

    def diffusivities(self) -> list[float]:
        """Return the diffusivity of wet meat between the nodes, at the temperatures of their shells (Arrhenius)."""
        found: list[float] = []
        for joints, shell_c in zip(self._zones, (self.core_c, self.middle_c, self.surface_c), strict=True):
            d = self._d_ref * exp(self._activation * (1.0 / REFERENCE_K - 1.0 / (shell_c + 273.15)))
            found += [d] * joints
        return found

    def ready(self, dt_s: float, *, film_w_m2k: float, lewis_factor: float, air_c: float, ratio: float) -> None:
        """Prepare a step of ``dt_s`` in air of this temperature and humidity ratio.

        Afterwards the piece gives ``give_at_zero - give_fall * ratio`` kg/s of water and takes heat as a surface of
        ``surface_ahead_c`` would. Temperature and moisture of the surface at the step's end are solved together: vapour
        is taken as proportional to moisture (so that nothing dries below nothing) and by Newton's method in temperature.
        """
        water = self.water
        water.ready(dt_s, self.diffusivities(), wet=self._wet, floor=self._floor)
        self._ready_heat(dt_s)
        heat_w_k = film_w_m2k * self.shape.area_m2
        mass_kg_s = heat_w_k * lewis_factor / (AIR_J_PER_KGK + VAPOUR_J_PER_KGK * ratio)
        x = max(water.moisture[-1], 1e-9)
        activity = x * x / (self._half + x * x)
        per_x, supply = mass_kg_s * dt_s / water.m, water.r / water.m
        at_c = self.surface_c
        latent_js = dt_s * (latent_j_per_kg(at_c) - WATER_J_PER_KGK * (self.mean_c - at_c))
        warm = self._divisor + dt_s * heat_w_k
        drift_c = (self._level + dt_s * heat_w_k * air_c) / warm  # where the surface would go if it were dry
        # Between these lies the temperature sought, the only one: hottest is a surface on which all vapour condenses.
        low_c, high_c = COLDEST_C, drift_c + latent_js * mass_kg_s * ratio / warm
        given = per_k = room = step_k = 0.0
        for _ in range(NEWTON_STEPS):
            vapour = min(activity * saturation_pa(at_c), 0.9 * PRESSURE_PA)
            chord = RATIO * vapour / (PRESSURE_PA - vapour) / x
            room = 1.0 + per_x * chord
            given = mass_kg_s * (chord * supply - ratio) / room
            # dW/dT = W P/(P-p) d(ln p)/dT, the last by the Magnus form
            steep = chord * PRESSURE_PA / (PRESSURE_PA - vapour) * 4284.0 / (243.12 + at_c) ** 2
            per_k = mass_kg_s * (supply + per_x * ratio) / (room * room) * steep
            left_j = warm * (drift_c - at_c) - latent_js * given
            step_k = left_j / (warm + latent_js * per_k)
            if left_j > 0.0:
                low_c = at_c
            else:
                high_c = at_c
            if not low_c <= at_c + step_k <= high_c:  # past a bend, as where the water boils: by halves
                step_k = (low_c + high_c) / 2.0 - at_c
            at_c += step_k
            if -NEAR_K < step_k < NEAR_K:
                break
        self.surface_ahead_c = at_c
        self.give_fall = mass_kg_s / room / (1.0 + latent_js * per_k / warm)
        self.give_at_zero = given + per_k * step_k + self.give_fall * ratio

    def _ready_heat(self, dt_s: float) -> None:
        """First half of the implicit heat step: the surface will be ``(level + heat) / divisor`` degC."""
        whole = self.heat_j_k
        core, middle, surface = (share * whole for share in self._shares)
        u1, u2 = dt_s * self._joints[0], dt_s * self._joints[1]
        a1 = core + u1
        level1, slope1 = core * self.core_c / a1, u1 / a1
        a2 = middle + u1 * (1.0 - slope1) + u2
        level2, slope2 = (middle * self.middle_c + u1 * level1) / a2, u2 / a2
        self._heat_back = (level1, slope1, level2, slope2)
        self._level = surface * self.surface_c + u2 * level2
        self._divisor = surface + u2 * (1.0 - slope2)

    def settle(self, heat_j: float, given_kg: float) -> float:
        """Finish the step: so much heat came from the air, so much water went to it. Returns the enthalpy of that vapour, J."""
        surface_c = self.surface_c
        latent = latent_j_per_kg(surface_c) * given_kg
        carried = WATER_J_PER_KGK * given_kg
        net = heat_j - latent + carried * (self.mean_c - surface_c)
        self.water.take(given_kg)
        level1, slope1, level2, slope2 = self._heat_back
        self.surface_c = (self._level + net) / self._divisor
        self.middle_c = level2 + slope2 * self.surface_c
        self.core_c = level1 + slope1 * self.middle_c
        return latent + carried * surface_c
