"""The hot dryer: element, air and walls; vapour that comes from the pieces and leaves with the exchanged air.

Heat is stepped exactly by ``Bodies``; vapour is one exact exponential, because each piece gives water as a straight line
in the air's humidity; pieces are stepped every PIECE_TICKS with what really passed. Walls below the dew point carry a
film of water.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from dryward_hardware.twin.heat import Bodies
from dryward_hardware.twin.model import PIECE_TICKS, TICK_S, Drive, Ledger
from dryward_hardware.twin.moist_air import (
    AIR_J_PER_KGK,
    VAPOUR_AT_ZERO_J_PER_KG,
    VAPOUR_J_PER_KGK,
    WATER_J_PER_KGK,
    saturated_ratio,
    saturation_pa,
    vapour_j_per_kg,
    vapour_pa,
)
from dryward_hardware.twin.options import TwinOptions
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.room import RoomAir

DRY_AIR_KG_M3 = 1.1  # of the air in the chamber, between cold and hot
ROOM_AIR_KG_M3 = 1.19
STILL_SHARE = 0.2  # of a conductance to moving air that is left when the fan stands (no source)


class DryerModel:
    """The dryer of the options, at rest and empty."""

    def __init__(self, options: TwinOptions) -> None:
        self._dryer = dryer = options.dryer
        self.room = RoomAir(options.room)
        start_c = self.room.air_c if options.start_c is None else options.start_c
        self._element_c = self._air_c = self._wall_c = start_c
        self._ratio = self.room.ratio
        self._film_kg = 0.0  # water on the walls
        self._air_kg = dryer.volume_m3 * DRY_AIR_KG_M3
        self._drive = Drive()
        self._bodies: dict[tuple[float, float], Bodies] = {}
        self._inside: list[PieceBody] = []
        self._outside: list[PieceBody] = []
        self._elapsed = 0  # ticks
        self._heater_j = self._fan_j = self._lost_j = self._lost_kg = self._brought_j = self._brought_kg = self._evaporated_kg = 0.0
        self._switch()
        self._open()
        self._start_j, self._start_kg = self._stored()

    # what others see

    @property
    def air_c(self) -> float:
        return self._air_c

    @property
    def true_c(self) -> float:
        return self._air_c

    @property
    def limit_c(self) -> float:
        return self._air_c + self._dryer.limit_share * (self._element_c - self._air_c)

    @property
    def rh_pct(self) -> float:
        return min(100.0, 100.0 * vapour_pa(self._ratio) / saturation_pa(self._air_c))

    @property
    def room_c(self) -> float:
        return self.room.air_c

    @property
    def room_rh_pct(self) -> float:
        return self.room.rh_pct

    @property
    def inside(self) -> Sequence[PieceBody]:
        return self._inside

    def wall_c(self) -> float:
        return self._wall_c

    def drive(self, drive: Drive) -> None:
        """Take new outputs from now on."""
        if drive == self._drive:
            return
        film_changes = drive.fan != self._drive.fan
        if film_changes:
            self._close()
        self._drive = drive
        self._switch()
        if film_changes:
            self._open()

    def put_in(self, piece: PieceBody, *, new: bool) -> None:
        """Hang a piece in the chamber."""
        self._close()
        if new:
            self._brought_j += piece.heat_j_k * piece.mean_c
            self._brought_kg += piece.water.water_kg
        else:
            self._outside.remove(piece)
        self._inside.append(piece)
        self._switch()
        self._open()

    def take_out(self, piece: PieceBody) -> None:
        """Lay a piece beside the chamber, in the still air of the room."""
        self._close()
        self._inside.remove(piece)
        self._outside.append(piece)
        self._switch()
        self._open()

    def ledger(self) -> Ledger:
        """Return the accounts."""
        stored_j, stored_kg = self._stored()
        return Ledger(
            heater_j=self._heater_j,
            supplied_j=self._heater_j + self._fan_j,
            brought_j=self._brought_j,
            lost_j=self._lost_j,
            stored_j=stored_j - self._start_j,
            brought_kg=self._brought_kg,
            lost_kg=self._lost_kg,
            stored_kg=stored_kg - self._start_kg,
            evaporated_kg=self._evaporated_kg,
        )

    def _stored(self) -> tuple[float, float]:
        """Return energy (J) and water (kg) held by chamber and pieces."""
        d = self._dryer
        pieces = self._inside + self._outside
        under_way = [self._under_way(n) for n in range(len(self._inside))]
        vapour_kg = self._ratio * self._air_kg
        energy = (
            d.element_j_k * self._element_c
            + d.air_j_k * self._air_c
            + d.wall_j_k * self._wall_c
            + vapour_kg * vapour_j_per_kg(self._air_c)
            + self._film_kg * WATER_J_PER_KGK * self._wall_c
            + sum(p.heat_j_k * p.mean_c for p in pieces)
            + sum(heat_j - kg * vapour_j_per_kg(p.surface_c) for p, (heat_j, kg) in zip(self._inside, under_way, strict=True))
        )
        water = vapour_kg + self._film_kg + sum(p.water.water_kg for p in pieces) - sum(kg for _, kg in under_way)
        return energy, water

    def _under_way(self, number: int) -> tuple[float, float]:
        """Heat (J) and water (kg) that have passed between the air and a piece in the step not yet ended."""
        piece, dt_s = self._inside[number], self._done * TICK_S
        heat_j = self._piece_w_k[number] * (self._air_cs - piece.surface_ahead_c * dt_s)
        return heat_j, piece.give_at_zero * dt_s - piece.give_fall * self._ratio_s

    def mass_g(self, piece: PieceBody) -> float:
        """Return the present weight of a piece, g."""
        if piece in self._inside:
            return piece.mass_g - 1000.0 * self._under_way(self._inside.index(piece))[1]
        return piece.mass_g

    # steps

    def _switch(self) -> None:
        """Work out everything that hangs on outputs and load."""
        d, drive = self._dryer, self._drive
        fan = min(drive.fan, 1.0)
        stir = STILL_SHARE + (1.0 - STILL_SHARE) * fan
        draught = 0.3 + 0.7 * fan  # a vent draws a little without the fan, as hot air rises
        flow_m3_h = d.leak_m3_h + (d.vent_m3_h * draught if drive.vent else 0.0) + (d.door_m3_h if drive.door else 0.0)
        self._flow_kg_s = flow_m3_h * ROOM_AIR_KG_M3 / 3600.0
        self._film_w_m2k = d.still_film_w_m2k + (d.film_w_m2k - d.still_film_w_m2k) * fan
        self._piece_w_k = [self._film_w_m2k * p.shape.area_m2 for p in self._inside]
        self._flow_w_k = self._flow_kg_s * (AIR_J_PER_KGK + VAPOUR_J_PER_KGK * self.room.ratio)
        self._wall_mass_kg_s = d.air_wall_w_k * stir / AIR_J_PER_KGK
        out = self._flow_w_k + sum(self._piece_w_k)
        key = (stir, out)
        bodies = self._bodies.get(key)
        if bodies is None:
            bodies = self._bodies[key] = Bodies(
                capacities=(d.element_j_k, d.air_j_k, d.wall_j_k),
                source_air=d.element_w_k * stir,
                air_wall=d.air_wall_w_k * stir,
                air_out=out,
                wall_out=d.wall_room_w_k,
                tick_s=TICK_S,
            )
        self._steps = bodies.over
        self._power()

    def _power(self) -> None:
        """Work out heater and fan power at the present mains voltage."""
        voltage = self.room.mains
        self._heater_w = self._dryer.heater_w * self._drive.heat * voltage * voltage
        self._fan_w = self._dryer.fan_w * self._drive.fan

    def _open(self) -> None:
        """Begin a step of the pieces: ask each how much water it will give."""
        self._left = PIECE_TICKS - self._elapsed % PIECE_TICKS
        dt_s = self._left * TICK_S
        self.room.at(self._elapsed * TICK_S)
        self._power()
        self._ratio_s = self._air_cs = 0.0  # integrals over the step
        self._done = 0
        ratio, air_c, film, lewis = self._ratio, self._air_c, self._film_w_m2k, self._dryer.lewis_factor
        give = fall = pull = surface = 0.0
        for piece, w_k in zip(self._inside, self._piece_w_k, strict=True):
            piece.ready(dt_s, film_w_m2k=film, lewis_factor=lewis, air_c=air_c, ratio=ratio)
            give += piece.give_at_zero
            fall += piece.give_fall
            pull += w_k * piece.surface_ahead_c
            surface += piece.surface_c
        self._give, self._fall, self._pull_w = give, fall, pull
        self._surface_c = surface / len(self._inside) if self._inside else air_c
        self._open_walls(dt_s)

    def _open_walls(self, dt_s: float) -> None:
        """Decide whether the walls carry a film, which gives water like a wet surface; it cannot give more than there is."""
        saturated = saturated_ratio(self._wall_c)
        mass = self._wall_mass_kg_s
        if self._ratio <= saturated:
            most = mass * (saturated - self._ratio) * dt_s
            mass = 0.0 if self._film_kg <= 0.0 else mass * min(1.0, self._film_kg / most) if most > 0.0 else mass
        self._wall_fall = mass
        self._wall_give = mass * saturated

    def _close(self) -> None:
        """End a step of the pieces: hand each the heat and water that really passed."""
        if not self._done:
            return
        dt_s = self._done * TICK_S
        early = self._left > 0
        lewis, film = self._dryer.lewis_factor, self._film_w_m2k
        mean_c, mean_ratio = self._air_cs / dt_s, self._ratio_s / dt_s
        for number, piece in enumerate(self._inside):
            heat_j, given_kg = self._under_way(number)
            if early:
                piece.ready(dt_s, film_w_m2k=film, lewis_factor=lewis, air_c=mean_c, ratio=mean_ratio)
            piece.settle(heat_j, given_kg)
            self._evaporated_kg += given_kg
        for piece in self._outside:
            self._dry_outside(piece, dt_s)
        self._done = 0
        self._rain()

    def _dry_outside(self, piece: PieceBody, dt_s: float) -> None:
        d, room = self._dryer, self.room
        piece.ready(dt_s, film_w_m2k=d.still_film_w_m2k, lewis_factor=d.lewis_factor, air_c=room.air_c, ratio=room.ratio)
        heat_j = d.still_film_w_m2k * piece.shape.area_m2 * (room.air_c - piece.surface_ahead_c) * dt_s
        given_kg = (piece.give_at_zero - piece.give_fall * room.ratio) * dt_s
        self._lost_j += piece.settle(heat_j, given_kg) - heat_j
        self._lost_kg += given_kg
        self._evaporated_kg += given_kg

    def _rain(self) -> None:
        """Air that holds more than it can loses the rest to the walls."""
        most = saturated_ratio(self._air_c)
        if self._ratio > most:
            fallen = (self._ratio - most) * self._air_kg
            heat = fallen * (vapour_j_per_kg(self._air_c) - WATER_J_PER_KGK * self._wall_c)
            self._ratio = most
            self._film_kg += fallen
            self._wall_c += heat / (self._dryer.wall_j_k + self._film_kg * WATER_J_PER_KGK)

    def advance(self, ticks: int) -> None:
        """Go on by so many ticks."""
        while ticks:
            part = min(ticks, self._left)
            self._step(part)
            self._elapsed += part
            self._done += part
            self._left -= part
            ticks -= part
            if not self._left:
                self._close()
                self._open()

    def _step(self, ticks: int) -> None:
        """One step of air, element and walls with everything else held."""
        d, dt_s, room_c, room_ratio = self._dryer, ticks * TICK_S, self.room.air_c, self.room.ratio
        flow, air_kg, air_c = self._flow_kg_s, self._air_kg, self._air_c
        # vapour: air_kg W' = gives - falls W
        rate = self._fall + self._wall_fall + flow
        level = (self._give + self._wall_give + flow * room_ratio) / rate
        ratio0 = self._ratio
        self._ratio = ratio = level + (ratio0 - level) * exp(-rate * dt_s / air_kg)
        ratio_s = level * dt_s + (ratio0 - ratio) * air_kg / rate
        from_pieces = self._give * dt_s - self._fall * ratio_s
        from_walls = self._wall_give * dt_s - self._wall_fall * ratio_s
        # heat: each watt into its body
        film_j = from_walls * (VAPOUR_AT_ZERO_J_PER_KG + VAPOUR_J_PER_KGK * air_c - WATER_J_PER_KGK * self._wall_c)
        b0 = self._heater_w / d.element_j_k
        b1 = (
            self._pull_w + self._flow_w_k * room_c + self._fan_w - VAPOUR_J_PER_KGK * from_pieces * (air_c - self._surface_c) / dt_s
        ) / d.air_j_k
        b2 = (d.wall_room_w_k * room_c - film_j / dt_s) / d.wall_j_k
        p0, p1, p2, p3, p4, p5, p6, p7, p8, g0, g1, g2, g3, g4, g5, g6, g7, g8, h3, h4, h5, h6, h7, h8 = self._steps(ticks)
        element_c, wall_c = self._element_c, self._wall_c
        self._element_c = p0 * element_c + p1 * air_c + p2 * wall_c + g0 * b0 + g1 * b1 + g2 * b2
        self._air_c = p3 * element_c + p4 * air_c + p5 * wall_c + g3 * b0 + g4 * b1 + g5 * b2
        self._wall_c = p6 * element_c + p7 * air_c + p8 * wall_c + g6 * b0 + g7 * b1 + g8 * b2
        air_cs = g3 * element_c + g4 * air_c + g5 * wall_c + h3 * b0 + h4 * b1 + h5 * b2
        wall_cs = g6 * element_c + g7 * air_c + g8 * wall_c + h6 * b0 + h7 * b1 + h8 * b2
        # accounts
        self._ratio_s += ratio_s
        self._air_cs += air_cs
        self._film_kg -= from_walls
        if self._film_kg < 0.0:  # the last of the film: the air gives back what was not there
            self._ratio += self._film_kg / air_kg
            self._film_kg = 0.0
        self._heater_j += self._heater_w * dt_s
        self._fan_j += self._fan_w * dt_s
        self._lost_kg += flow * (ratio_s - room_ratio * dt_s)
        self._lost_j += (
            d.wall_room_w_k * (wall_cs - room_c * dt_s)
            + flow * AIR_J_PER_KGK * (air_cs - room_c * dt_s)
            + flow * VAPOUR_AT_ZERO_J_PER_KG * (ratio_s - room_ratio * dt_s)
            + flow * VAPOUR_J_PER_KGK * (ratio_s * air_cs / dt_s - room_ratio * room_c * dt_s)
        )
