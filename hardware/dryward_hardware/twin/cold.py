"""What a cool cabinet has beside a heater: compressor and coil, humidifier, dehumidifier.

The coil takes water from air above its dew point, carries it as film and ice, drains what it cannot hold, and gives back
what is left when it warms. Water on it counts as liquid at 0 degC, ice as less by its heat of fusion.
"""

from __future__ import annotations

from math import exp

from dryward_hardware.twin.model import Drive
from dryward_hardware.twin.moist_air import AIR_J_PER_KGK, WATER_J_PER_KGK, saturated_ratio, vapour_j_per_kg
from dryward_hardware.twin.options import Cabinet
from dryward_hardware.twin.vapour import Vapour, WetSurface

FUSION_J_PER_KG = 333_600.0  # at 0 degC (IAPWS)
COAST_S = 20.0  # time in which the cold in a stopped circuit is spent (no source)
RATED_COIL_C = 0.0  # coil temperature at which the cooler has its rated power
PER_COIL_K = 0.03  # its power rises so with each kelvin of coil temperature (typical of small compressors, no source)
ICE_HALVES_KG = 0.5  # so much ice takes half of the coil's heat transfer (no source)
PLATE_RATIO = saturated_ratio(3.0)  # humidity ratio at the dehumidifier's cold plate
RATED_RATIO = 0.0073  # 13 degC, 78 %RH: where the dehumidifier has its rated power


class Cold:
    """The works of a cabinet. ``give - fall * W`` kg/s of water come from coil, humidifier and dehumidifier together."""

    __slots__ = (
        "_capacity", "_dry_fall", "_humid_kg_s", "_options", "_running", "_stopped_s", "_wanted",
        "brought_j", "brought_kg", "coil", "coil_mass_kg_s", "compressor_j", "fall", "give", "ice_kg", "lost_j", "lost_kg", "stalled_starts", "supplied_j", "works_w",
    )  # fmt: skip

    def __init__(self, cabinet: Cabinet) -> None:
        self._options = cabinet
        self.coil = WetSurface()
        self.ice_kg = 0.0
        self._capacity = 0.0  # share of the cooling power that has built up
        self._wanted = self._running = False
        self._stopped_s = -1e9
        self.stalled_starts = 0  # the compressor was started against pressure and did not turn
        self.give = self.fall = self.works_w = self._humid_kg_s = self._dry_fall = self.coil_mass_kg_s = 0.0
        self.supplied_j = self.compressor_j = self.brought_j = self.brought_kg = self.lost_j = self.lost_kg = 0.0

    @property
    def clear_share(self) -> float:
        """Share of the coil's heat transfer that its ice leaves, in steps of 20 g of ice."""
        return 1.0 / (1.0 + round(self.ice_kg / 0.02) * 0.02 / ICE_HALVES_KG)

    def switch(self, drive: Drive, elapsed_s: float, coil_w_k: float) -> None:
        """Take new outputs; ``coil_w_k`` is the coil's present conductance to the air."""
        o = self._options
        wanted = drive.cooler > 0.0
        if wanted and not self._wanted:
            self._running = elapsed_s - self._stopped_s >= o.equalise_s
            self.stalled_starts += not self._running
        elif not wanted:
            if self._running:
                self._stopped_s = elapsed_s
            self._running = False
        self._wanted = wanted
        self.coil_mass_kg_s = coil_w_k / AIR_J_PER_KGK
        self._humid_kg_s = drive.humidifier * o.humidifier_g_h / 3.6e6
        self._dry_fall = drive.dehumidifier * o.dehumidifier_g_h / 3.6e6 / (RATED_RATIO - PLATE_RATIO)
        self.works_w = drive.humidifier * o.humidifier_w + drive.dehumidifier * o.dehumidifier_w

    def face(self, dt_s: float, *, coil_c: float, vapour: Vapour, walls_kg_s: float = 0.0) -> None:
        """Meet the air for ``dt_s``, with walls that exchange ``walls_kg_s`` with it."""
        coil = self.coil
        coil.face(
            dt_s,
            mass_kg_s=self.coil_mass_kg_s,
            saturated=saturated_ratio(coil_c),
            vapour=vapour,
            beside_kg_s=walls_kg_s,
        )
        dry = self._dry_fall if vapour.ratio > PLATE_RATIO else 0.0
        self.give = coil.give + dry * PLATE_RATIO + self._humid_kg_s
        self.fall = coil.fall + dry

    def passed(
        self, dt_s: float, *, ratio_s: float, coil_c: float, air_c: float, room_c: float, power: float
    ) -> tuple[float, float]:
        """Book what passed in ``dt_s``; ``power`` is the cooler's share of its own. Returns heat into coil and air, J."""
        o, coil = self._options, self.coil
        vapour_j = vapour_j_per_kg(air_c)
        from_coil = coil.gave(dt_s, ratio_s)
        dry = self.fall - coil.fall
        dried_kg = dry * (ratio_s - PLATE_RATIO * dt_s)
        humid_kg = self._humid_kg_s * dt_s
        target, tau = (power, o.cooler_lag_s) if self._running else (0.0, COAST_S)
        left = exp(-dt_s / tau)
        mean = target + (self._capacity - target) * (1.0 - left) * tau / dt_s
        self._capacity = target + (self._capacity - target) * left
        pumped_j = o.cooler_w * mean * max(0.2, 1.0 + PER_COIL_K * (coil_c - RATED_COIL_C)) * dt_s
        water_j = humid_kg * WATER_J_PER_KGK * room_c
        self.supplied_j += self.works_w * dt_s
        self.compressor_j += o.compressor_w * dt_s * self._running
        self.brought_kg += humid_kg
        self.brought_j += water_j
        self.lost_kg += dried_kg
        self.lost_j += pumped_j
        return -pumped_j - from_coil * vapour_j, (dried_kg - humid_kg) * vapour_j + water_j + self.works_w * dt_s

    def freeze(self, coil_c: float) -> float:
        """Let film freeze or ice melt, drain what is too much; returns the coil's temperature after that."""
        coil, heat_j_k = self.coil, self._options.coil_j_k
        if self.ice_kg > coil.kg:  # ice that went into the air took its heat of fusion along
            coil_c -= (self.ice_kg - coil.kg) * FUSION_J_PER_KG / heat_j_k
            self.ice_kg = coil.kg
        water_kg = coil.kg - self.ice_kg
        could_kg = -coil_c * heat_j_k / FUSION_J_PER_KG
        frozen_kg = min(water_kg, could_kg) if could_kg > 0.0 else max(-self.ice_kg, could_kg)
        self.ice_kg += frozen_kg
        coil_c += frozen_kg * FUSION_J_PER_KG / heat_j_k
        drained_kg = coil.kg - self.ice_kg - self._options.coil_holds_g / 1000.0
        if drained_kg > 0.0:
            coil.kg -= drained_kg
            self.lost_kg += drained_kg
        return coil_c

    def stored_j(self) -> float:
        """Return what the ice is short of, J."""
        return -self.ice_kg * FUSION_J_PER_KG
