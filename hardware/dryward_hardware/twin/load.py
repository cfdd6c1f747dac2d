"""The pieces of a chamber, as its air feels them: a sum of straight lines, renewed at every step of the pieces."""

from __future__ import annotations

from dryward_hardware.twin.model import TICK_S
from dryward_hardware.twin.moist_air import vapour_j_per_kg
from dryward_hardware.twin.piece import PieceBody
from dryward_hardware.twin.room import RoomAir


class Load:
    """Pieces inside and beside a chamber.

    Between ``begin`` and ``end`` the pieces inside give ``give - fall * W`` kg/s of water to air of humidity ratio W, and
    take ``heat_w_k * T - pull_w`` watts from air of temperature T. The chamber adds up the integrals of both in
    ``ratio_s`` and ``air_cs`` and the time in ``ticks``.
    """

    __slots__ = (
        "air_cs",
        "brought_j",
        "brought_kg",
        "fall",
        "film_w_m2k",
        "give",
        "heat_w_k",
        "inside",
        "lewis",
        "lost_j",
        "lost_kg",
        "outside",
        "planned_s",
        "pull_w",
        "ratio_s",
        "still_w_m2k",
        "surface_c",
        "ticks",
    )

    def __init__(self, *, still_w_m2k: float, lewis_factor: float) -> None:
        self.inside: list[PieceBody] = []
        self.outside: list[PieceBody] = []
        self.still_w_m2k = self.film_w_m2k = still_w_m2k
        self.lewis = lewis_factor
        self.give = self.fall = self.pull_w = self.heat_w_k = self.surface_c = 0.0
        self.ratio_s = self.air_cs = self.planned_s = 0.0
        self.ticks = 0
        self.brought_j = self.brought_kg = 0.0  # with the pieces as they came
        self.lost_j = self.lost_kg = 0.0  # to the room, by pieces beside the chamber

    def put_in(self, piece: PieceBody, *, new: bool) -> None:
        """Hang a piece, between two steps."""
        if new:
            self.brought_j += piece.heat_j_k * piece.mean_c
            self.brought_kg += piece.water.water_kg
        else:
            self.outside.remove(piece)
        self.inside.append(piece)

    def take_out(self, piece: PieceBody) -> None:
        """Lay a piece beside the chamber, between two steps."""
        self.inside.remove(piece)
        self.outside.append(piece)

    def stir(self, film_w_m2k: float) -> None:
        """Set the heat transfer to the pieces inside, between two steps."""
        self.film_w_m2k = film_w_m2k
        self.heat_w_k = sum(film_w_m2k * piece.shape.area_m2 for piece in self.inside)

    def begin(self, dt_s: float, *, air_c: float, ratio: float) -> None:
        """Ask each piece what it will give over ``dt_s``."""
        film, lewis = self.film_w_m2k, self.lewis
        give = fall = pull = surface = 0.0
        for piece in self.inside:
            piece.ready(dt_s, film_w_m2k=film, lewis_factor=lewis, air_c=air_c, ratio=ratio)
            give += piece.give_at_zero
            fall += piece.give_fall
            pull += film * piece.shape.area_m2 * piece.surface_ahead_c
            surface += piece.surface_c
        self.give, self.fall, self.pull_w = give, fall, pull
        self.surface_c = surface / len(self.inside) if self.inside else air_c
        self.planned_s = dt_s
        self.ratio_s = self.air_cs = 0.0
        self.ticks = 0

    def end(self, room: RoomAir) -> None:
        """Hand each piece the heat and water that really passed; those beside the chamber dry in the room."""
        if not self.ticks:
            return
        dt_s = self.ticks * TICK_S
        early = dt_s < self.planned_s
        for piece in self.inside:
            heat_j, given_kg = self.under_way(piece)
            if early:  # the step turned out shorter than planned
                piece.ready(
                    dt_s,
                    film_w_m2k=self.film_w_m2k,
                    lewis_factor=self.lewis,
                    air_c=self.air_cs / dt_s,
                    ratio=self.ratio_s / dt_s,
                )
            piece.settle(heat_j, given_kg)
        for piece in self.outside:
            piece.ready(dt_s, film_w_m2k=self.still_w_m2k, lewis_factor=self.lewis, air_c=room.air_c, ratio=room.ratio)
            heat_j = self.still_w_m2k * piece.shape.area_m2 * (room.air_c - piece.surface_ahead_c) * dt_s
            given_kg = (piece.give_at_zero - piece.give_fall * room.ratio) * dt_s
            self.lost_j += piece.settle(heat_j, given_kg) - heat_j
            self.lost_kg += given_kg
        self.ticks = 0

    def under_way(self, piece: PieceBody) -> tuple[float, float]:
        """Return the heat (J) and water (kg) that have passed between the air and a piece in the step not yet ended."""
        dt_s = self.ticks * TICK_S
        heat_j = self.film_w_m2k * piece.shape.area_m2 * (self.air_cs - piece.surface_ahead_c * dt_s)
        return heat_j, piece.give_at_zero * dt_s - piece.give_fall * self.ratio_s

    def mass_g(self, piece: PieceBody) -> float:
        """Return the present weight of a piece, g."""
        if self.ticks and piece in self.inside:
            return piece.mass_g - 1000.0 * self.under_way(piece)[1]
        return piece.mass_g

    def stored(self) -> tuple[float, float]:
        """Return enthalpy (J) and water (kg) in all pieces, inside and beside, what is under way taken off."""
        energy = sum(p.heat_j_k * p.mean_c for p in self.inside + self.outside)
        water = sum(p.water.water_kg for p in self.inside + self.outside)
        if self.ticks:
            for piece in self.inside:
                heat_j, given_kg = self.under_way(piece)
                energy += heat_j - given_kg * vapour_j_per_kg(piece.surface_c)
                water -= given_kg
        return energy, water
