"""A chamber: a heat source, air and walls; vapour that comes from the pieces and leaves with the exchanged air.

The source is a dryer's heater element or a cabinet's coil (``Cold``). Heat is stepped exactly by ``Bodies``, vapour by
``Vapour``; the pieces are stepped every PIECE_TICKS with what really passed (``Load``). Walls below the dew point carry a
film of water, which counts as liquid at 0 degC.
"""

from __future__ import annotations

from collections.abc import Sequence

from dryward_hardware.twin.cold import Cold
from dryward_hardware.twin.heat import Bodies
from dryward_hardware.twin.load import Load
from dryward_hardware.twin.model import PIECE_TICKS, TICK_S, Condition, Drive, Ledger
from dryward_hardware.twin.moist_air import (
    AIR_J_PER_KGK,
    VAPOUR_AT_ZERO_J_PER_KG,
    VAPOUR_J_PER_KGK,
    saturated_ratio,
    saturation_pa,
    vapour_j_per_kg,
    vapour_pa,
)
from dryward_hardware.twin.options import Cabinet, TwinOptions
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.room import RoomAir
from dryward_hardware.twin.vapour import Vapour, WetSurface

DRY_AIR_KG_M3 = 1.1  # of the air in the chamber, between cold and hot
ROOM_AIR_KG_M3 = 1.19
STILL_SHARE = 0.2  # of a conductance to moving air that is left when the fan stands (no source)
DRAUGHT_SHARE = 0.3  # of a vent's flow that is left, as hot air rises (no source)


class BoxModel:
    """The dryer or cabinet of the options, at rest and empty."""

    def __init__(self, options: TwinOptions) -> None:
        self._box = box = options.cabinet if options.model == "cabinet" else options.dryer
        if isinstance(box, Cabinet):
            self._cold: Cold | None = Cold(box)
            self._source_j_k, self._source_w_k, self._limit_share = box.coil_j_k, box.coil_w_k, 0.0
        else:
            self._cold = None
            self._source_j_k, self._source_w_k, self._limit_share = box.element_j_k, box.element_w_k, box.limit_share
        self.room = RoomAir(options.room)
        start_c = self.room.air_c if options.start_c is None else options.start_c
        self._source_c = self._air_c = self._wall_c = start_c
        self._vapour = Vapour(
            air_kg=box.volume_m3 * DRY_AIR_KG_M3, ratio=min(self.room.ratio, saturated_ratio(start_c))
        )
        self._walls = WetSurface()
        self._load = Load(still_w_m2k=box.still_film_w_m2k, lewis_factor=box.lewis_factor)
        self._drive = Drive()
        self._bodies: dict[tuple[float, float, float], Bodies] = {}
        self._elapsed = 0  # ticks
        self._heater_j = self._fan_j = self._lost_j = self._lost_kg = 0.0
        self._switch()
        self._begin()
        self._start_j, self._start_kg = self._stored()

    @property
    def air_c(self) -> float:
        return self._air_c

    @property
    def true_c(self) -> float:
        return self._air_c

    @property
    def limit_c(self) -> float:
        return self._air_c + self._limit_share * (self._source_c - self._air_c)

    @property
    def rh_pct(self) -> float:
        return min(100.0, 100.0 * vapour_pa(self._vapour.ratio) / saturation_pa(self._air_c))

    @property
    def inside(self) -> Sequence[PieceBody]:
        return self._load.inside

    def condition(self) -> Condition:
        cold = self._cold
        return Condition(
            wall_c=self._wall_c,
            wall_film_g=1000.0 * self._walls.kg,
            ice_g=1000.0 * cold.ice_kg if cold else 0.0,
            stalled_starts=cold.stalled_starts if cold else 0,
        )

    def mass_g(self, piece: PieceBody) -> float:
        return self._load.mass_g(piece)

    def drive(self, drive: Drive) -> None:
        """Take new outputs from now on."""
        if drive == self._drive:
            return
        stirred = drive.fan != self._drive.fan
        if stirred:
            self._load.end(self.room)
        self._drive = drive
        self._switch()
        if stirred:
            self._begin()

    def put_in(self, piece: PieceBody, *, new: bool) -> None:
        """Hang a piece in the chamber."""
        self._load.end(self.room)
        self._load.put_in(piece, new=new)
        self._switch()
        self._begin()

    def take_out(self, piece: PieceBody) -> None:
        """Lay a piece beside the chamber, in the still air of the room."""
        self._load.end(self.room)
        self._load.take_out(piece)
        self._switch()
        self._begin()

    def ledger(self) -> Ledger:
        """Return the accounts."""
        stored_j, stored_kg = self._stored()
        load, cold = self._load, self._cold
        supplied_j = self._heater_j + self._fan_j + (cold.supplied_j if cold else 0.0)
        return Ledger(
            heater_j=self._heater_j,
            supplied_j=supplied_j,
            electric_j=supplied_j + (cold.compressor_j if cold else 0.0),
            brought_j=load.brought_j + (cold.brought_j if cold else 0.0),
            lost_j=self._lost_j + load.lost_j + (cold.lost_j if cold else 0.0),
            stored_j=stored_j - self._start_j,
            brought_kg=load.brought_kg + (cold.brought_kg if cold else 0.0),
            lost_kg=self._lost_kg + load.lost_kg + (cold.lost_kg if cold else 0.0),
            stored_kg=stored_kg - self._start_kg,
            evaporated_kg=load.brought_kg - load.stored()[1],
        )

    def _stored(self) -> tuple[float, float]:
        """Return energy (J) and water (kg) held by chamber and pieces."""
        box = self._box
        vapour_kg = self._vapour.ratio * self._vapour.air_kg
        pieces_j, pieces_kg = self._load.stored()
        energy = (
            self._source_j_k * self._source_c
            + box.air_j_k * self._air_c
            + box.wall_j_k * self._wall_c
            + vapour_kg * vapour_j_per_kg(self._air_c)
        )
        water = vapour_kg + self._walls.kg
        if self._cold:
            energy += self._cold.stored_j()
            water += self._cold.coil.kg
        return energy + pieces_j, water + pieces_kg

    def _switch(self) -> None:
        """Work out everything that hangs on outputs and load."""
        box, drive = self._box, self._drive
        stir = STILL_SHARE + (1.0 - STILL_SHARE) * drive.fan
        draught = DRAUGHT_SHARE + (1.0 - DRAUGHT_SHARE) * drive.fan
        flow_m3_h = (
            box.leak_m3_h + (box.vent_m3_h * draught if drive.vent else 0.0) + (box.door_m3_h if drive.door else 0.0)
        )
        self._flow_kg_s = flow_m3_h * ROOM_AIR_KG_M3 / 3600.0
        self._flow_w_k = self._flow_kg_s * (AIR_J_PER_KGK + VAPOUR_J_PER_KGK * self.room.ratio)
        self._wall_mass_kg_s = box.air_wall_w_k * stir / AIR_J_PER_KGK
        self._load.stir(box.still_film_w_m2k + (box.film_w_m2k - box.still_film_w_m2k) * drive.fan)
        source_w_k = self._source_w_k * stir * (self._cold.clear_share if self._cold else 1.0)
        key = (stir, source_w_k, self._flow_w_k + self._load.heat_w_k)
        bodies = self._bodies.get(key)
        if bodies is None:
            bodies = self._bodies[key] = Bodies(
                capacities=(self._source_j_k, box.air_j_k, box.wall_j_k),
                source_air=source_w_k,
                air_wall=box.air_wall_w_k * stir,
                air_out=key[2],
                wall_out=box.wall_room_w_k,
                tick_s=TICK_S,
            )
        self._over = bodies.over
        if self._cold:
            self._cold.switch(drive, self._elapsed * TICK_S, source_w_k)
        self._power()

    def _power(self) -> None:
        """Work out heater and fan power at the present mains voltage."""
        self._heater_w = self._box.heater_w * self._drive.heat * self.room.mains**2
        self._fan_w = self._box.fan_w * self._drive.fan

    def _begin(self) -> None:
        """Begin a step of the pieces."""
        if self._cold:
            self._switch()  # ice has grown or gone
        self._left = PIECE_TICKS - self._elapsed % PIECE_TICKS
        dt_s = self._left * TICK_S
        self.room.at(self._elapsed * TICK_S)
        self._power()
        self._rain()
        self._wall_ratio = saturated_ratio(self._wall_c)
        self._load.begin(dt_s, air_c=self._air_c, ratio=self._vapour.ratio)

    def _rain(self) -> None:
        """Air that holds more than it can loses the rest to the walls."""
        most = saturated_ratio(self._air_c)
        if self._vapour.ratio > most:
            fallen = (self._vapour.ratio - most) * self._vapour.air_kg
            self._vapour.ratio = most
            self._walls.kg += fallen
            self._wall_c += fallen * vapour_j_per_kg(self._air_c) / self._box.wall_j_k

    def advance(self, ticks: int) -> None:
        """Go on by so many ticks."""
        while ticks:
            part = min(ticks, self._left)
            self._step(part)
            self._elapsed += part
            self._left -= part
            ticks -= part
            if not self._left:
                self._load.end(self.room)
                self._begin()

    def _step(self, ticks: int) -> None:
        """One step of air, source and walls with everything else held."""
        box, dt_s, room_c, room_ratio = self._box, ticks * TICK_S, self.room.air_c, self.room.ratio
        load, walls, vapour, flow, cold = self._load, self._walls, self._vapour, self._flow_kg_s, self._cold
        source_c, air_c, wall_c = self._source_c, self._air_c, self._wall_c
        source_w, air_w = self._heater_w, self._fan_w
        walls_kg_s, coil_kg_s = self._wall_mass_kg_s, cold.coil_mass_kg_s if cold else 0.0
        walls.face(dt_s, mass_kg_s=walls_kg_s, saturated=self._wall_ratio, vapour=vapour, beside_kg_s=coil_kg_s)
        give, fall = load.give + walls.give + flow * room_ratio, load.fall + walls.fall + flow
        if cold:
            cold.face(dt_s, coil_c=source_c, vapour=vapour, walls_kg_s=walls_kg_s)
            give, fall = give + cold.give, fall + cold.fall
        ratio_s = vapour.step(dt_s, give, fall)
        from_pieces = load.give * dt_s - load.fall * ratio_s
        from_walls = walls.gave(dt_s, ratio_s)
        if cold:
            coil_j, works_j = cold.passed(
                dt_s, ratio_s=ratio_s, coil_c=source_c, air_c=air_c, room_c=room_c, power=self._drive.cooler
            )
            source_w, air_w = coil_j / dt_s, air_w + source_w + works_j / dt_s
        # each watt into its body
        warming_j = (
            from_pieces * VAPOUR_J_PER_KGK * (air_c - load.surface_c)
        )  # of the new vapour to the air's temperature
        film_j = from_walls * (VAPOUR_AT_ZERO_J_PER_KG + VAPOUR_J_PER_KGK * air_c)
        b0 = source_w / self._source_j_k
        b1 = (load.pull_w + self._flow_w_k * room_c + air_w - warming_j / dt_s) / box.air_j_k
        b2 = (box.wall_room_w_k * room_c - film_j / dt_s) / box.wall_j_k
        p0, p1, p2, p3, p4, p5, p6, p7, p8, g0, g1, g2, g3, g4, g5, g6, g7, g8, h3, h4, h5, h6, h7, h8 = self._over(
            ticks
        )
        self._source_c = p0 * source_c + p1 * air_c + p2 * wall_c + g0 * b0 + g1 * b1 + g2 * b2
        self._air_c = p3 * source_c + p4 * air_c + p5 * wall_c + g3 * b0 + g4 * b1 + g5 * b2
        self._wall_c = p6 * source_c + p7 * air_c + p8 * wall_c + g6 * b0 + g7 * b1 + g8 * b2
        air_cs = g3 * source_c + g4 * air_c + g5 * wall_c + h3 * b0 + h4 * b1 + h5 * b2
        wall_cs = g6 * source_c + g7 * air_c + g8 * wall_c + h6 * b0 + h7 * b1 + h8 * b2
        if cold:
            self._source_c = cold.freeze(self._source_c)
        load.ratio_s += ratio_s
        load.air_cs += air_cs
        load.ticks += ticks
        # accounts
        excess_kg = flow * (ratio_s - room_ratio * dt_s)
        self._heater_j += self._heater_w * dt_s
        self._fan_j += self._fan_w * dt_s
        self._lost_kg += excess_kg
        self._lost_j += (
            box.wall_room_w_k * (wall_cs - room_c * dt_s)
            + flow * AIR_J_PER_KGK * (air_cs - room_c * dt_s)
            + VAPOUR_AT_ZERO_J_PER_KG * excess_kg
            + flow * VAPOUR_J_PER_KGK * (ratio_s * air_cs / dt_s - room_ratio * room_c * dt_s)
        )
